import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { setFlagsFromString } from 'node:v8'
import { runInNewContext } from 'node:vm'
import { Intake } from '#ingest/intake/intake.ts'
import { openRecording } from '#ingest/recording/recording-writer.ts'
import { arrivalNow } from '#ingest/sources/arrival-now.ts'
import type { BenchPlan } from './bench-plan.ts'

/** Four channels at 100 Hz, a thousand times as fast: so many lines in one second. */
const neededLines = 100_000
const chunkLines = 200

export const plans: readonly BenchPlan[] = [
  (quick) => {
    const hours = quick ? 1 / 60 : 1
    const { cpuS, growthMB } = recordHours(hours)
    return {
      kind: 'figures',
      name: `recording ${hours === 1 ? 'one hour' : 'one minute'} of four channels at 100 Hz, from bytes to disk`,
      figures: [
        {
          name: 'one core at 1,000 times real time',
          value: (cpuS * neededLines) / (hours * 360_000),
          unit: 'of it',
          atMost: 1,
        },
        { name: 'memory grown after warm-up', value: growthMB, unit: 'MB', atMost: 4 },
      ],
    }
  },
]

/** Puts logger lines through intake and recording as fast as it goes; making the lines is not counted. */
function recordHours(hours: number): { cpuS: number; growthMB: number } {
  const folder = mkdtempSync(join(tmpdir(), 'bench-'))
  const recording = openRecording(join(folder, 'hour.lp'), { clock: arrivalNow })
  try {
    const intake = new Intake({
      port: 'bench',
      sink: {
        point: (_point, line, arrival) => recording.append(line, arrival),
        reject: (reason, bytes) => recording.reject(reason, bytes),
        comment: (text) => recording.comment(text),
        mark: () => undefined,
      },
    })
    intake.opened(arrivalNow())
    const lines = Math.round(hours * 360_000)
    let cpuMicroS = 0
    let warmBytes = 0
    for (let at = 0; at < lines; at += chunkLines) {
      const chunk = numberedLines(at, chunkLines)
      const before = process.cpuUsage()
      intake.bytes(chunk, arrivalNow())
      const spent = process.cpuUsage(before)
      cpuMicroS += spent.user + spent.system
      if (at === lines / 5) warmBytes = livingBytes()
    }
    const growthMB = (livingBytes() - warmBytes) / 1e6
    intake.closed(arrivalNow())
    const state = intake.state(process.hrtime.bigint())
    if (state.lines !== lines || state.rejected > 0)
      throw new Error(`${state.lines} of ${lines} lines recorded`)
    return { cpuS: cpuMicroS / 1e6, growthMB }
  } finally {
    recording.close()
    rmSync(folder, { recursive: true })
  }
}

function numberedLines(from: number, count: number): Buffer {
  let text = ''
  for (let i = from; i < from + count; i++) {
    const p1 = (68_947 - i * 1e-3).toFixed(2)
    const p2 = (68_940 - i * 1e-3).toFixed(2)
    text += `logger,port=a seq=${i}i,p1=${p1},p2=${p2},t1=21.125,baro=1013.2${i % 10}\n`
  }
  return Buffer.from(text)
}

/** Garbage collection on demand, without a flag on the command line. */
const collect = (() => {
  setFlagsFromString('--expose-gc')
  return runInNewContext('gc') as () => void
})()

/** What is alive after a collection, buffers outside the heap included. */
function livingBytes(): number {
  collect()
  const { heapUsed, external } = process.memoryUsage()
  return heapUsed + external
}
