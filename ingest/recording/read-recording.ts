import { closeSync, fstatSync, openSync, readFileSync, readSync } from 'node:fs'
import { basename } from 'node:path'
import type { System } from '#analysis/model/system.ts'
import { type ReadOptions, type RecordingRead, RecordingReader } from './recording-reader.ts'

export type { RecordingRead } from './recording-reader.ts'

/**
 * Reads a recording with its system file.
 *
 * @param name only named in messages and in the result
 * @throws UnreadableFile when it is empty, of another version, or not line protocol
 */
export function readRecording(
  bytes: Uint8Array | string,
  system: System,
  name: string,
  options: ReadOptions = {},
): RecordingRead {
  const whole = typeof bytes === 'string' ? Buffer.from(bytes) : bytes
  const reader = new RecordingReader(system, name, whole.length, options)
  reader.push(whole)
  return reader.finish()
}

/**
 * The same from a file, in chunks: a day at 100 Hz needs only the memory of its columns.
 *
 * @param path `-` reads standard input
 * @param progress receives the share that is read, after each chunk
 * @param name name of the recording when it differs from the file's
 * @throws UnreadableFile as `readRecording`, and the system's error when the file cannot be opened
 */
export function readRecordingFile(
  path: string,
  system: System,
  progress: (share: number) => void = () => {},
  name = basename(path),
): RecordingRead {
  if (path === '-') return readRecording(readFileSync(0), system, 'standard input')
  const file = openSync(path, 'r')
  try {
    const { size } = fstatSync(file)
    const reader = new RecordingReader(system, name, size)
    const chunk = new Uint8Array(chunkBytes)
    let bytes = 0
    for (let length = readSync(file, chunk); length > 0; length = readSync(file, chunk)) {
      reader.push(chunk.subarray(0, length))
      bytes += length
      progress(Math.min(1, bytes / size))
    }
    return reader.finish()
  } finally {
    closeSync(file)
  }
}

const chunkBytes = 1 << 20
