import { openRecording } from '#ingest/recording/recording-writer.ts'
import { arrivalNow } from '#ingest/sources/arrival-now.ts'

// A logger at 1 kHz until this process is killed; every hundredth line is a mark. Prints each number it has written.
const writer = openRecording(process.argv[2], { clock: arrivalNow })
let n = 0
setInterval(() => {
  for (let k = 0; k < 10; k++, n++) {
    if (n % 100 === 99) {
      writer.mark({ kind: 'note', fields: { text: `line ${n}`, n } })
      process.stdout.write(`mark ${n}\n`)
    } else writer.append(`logger n=${n}i,p1=10.125`)
  }
  process.stdout.write(`${Date.now()} ${n}\n`)
}, 10)
