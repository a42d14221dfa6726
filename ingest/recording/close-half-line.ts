import type { DurableFile } from './durable-file.ts'
import { RecordingFault } from './recording-fault.ts'
import { recordingHeader } from './recording-header.ts'
import { rejectedLine } from './rejected-line.ts'
import { isWholeLine } from './whole-line.ts'

/**
 * Makes a recording that was left in the middle of a line ready for appending. A whole line gets its line end; a half
 * one becomes the comment `#! cut line: …`, which has all its bytes and so is never shorter.
 *
 * @throws RecordingFault when the file is no recording
 */
export function closeHalfLine(file: DurableFile): void {
  if (file.sizeBytes === 0) return
  const header = `${recordingHeader}\n`
  const beginning = file.read(0, header.length + 1).toString('utf8')
  if (beginning.length < header.length && header.startsWith(beginning)) {
    file.replaceEnd(0, header)
    return
  }
  if (!/^# stillhold recording 1\r?\n/.test(beginning)) {
    const cause = `its first line is not "${recordingHeader}"`
    throw new RecordingFault('not-a-recording', 'open', file.path, 'choose another name', cause)
  }
  const from = lastLineAt(file)
  if (from === file.sizeBytes) return
  const half = file.read(from, file.sizeBytes)
  const text = half.toString('utf8')
  if (isWholeLine(text)) file.replaceEnd(file.sizeBytes, '\n')
  else file.replaceEnd(from, `${rejectedLine('cut line', half)}\n`)
}

/** Where the last line begins; the size of the file when it ends with a line end. */
function lastLineAt(file: DurableFile): number {
  const windowBytes = 65_536
  for (let to = file.sizeBytes; to > 0; to -= windowBytes) {
    const from = Math.max(0, to - windowBytes)
    const newlineAt = file.read(from, to).lastIndexOf('\n')
    if (newlineAt !== -1) return from + newlineAt + 1
  }
  return 0
}
