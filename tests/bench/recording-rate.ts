import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { Intake } from '#ingest/intake.ts'
import { openRecording } from '#ingest/recording/recording-writer.ts'
import { arrivalNow } from '#ingest/sources/arrival-now.ts'

/** Four channels a line, 100 lines a second, a thousand times as fast. */
const neededLinesPerS = 100_000
const simulatedS = 3600
const linesPerSimulatedS = 100
const chunkLines = 200

export interface RecordingRate {
  readonly lines: number
  /** Lines for each second of processor time: what one core sustains, whatever else the machine does. */
  readonly linesPerCpuS: number
  readonly timesNeeded: number
  /** Memory at the end against that after the first fifth, [MB]. */
  readonly growthMB: number
}

/** One hour of four-channel logging through intake and recording, onto a real disk, as fast as it goes. */
export async function measureRecordingRate(): Promise<RecordingRate> {
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
    const lines = simulatedS * linesPerSimulatedS
    let cpuMicroS = 0
    let warmBytes = 0
    for (let at = 0; at < lines; at += chunkLines) {
      const chunk = loggerLines(at, Math.min(chunkLines, lines - at))
      const before = process.cpuUsage()
      intake.bytes(chunk, arrivalNow())
      const spent = process.cpuUsage(before)
      cpuMicroS += spent.user + spent.system
      // Timers and disk must get their turn, as between the chunks of a real port.
      if (at % (50 * chunkLines) === 0) await new Promise((resolve) => setImmediate(resolve))
      if (at === lines / 5) warmBytes = settledHeapBytes()
    }
    const growthMB = (settledHeapBytes() - warmBytes) / 1e6
    intake.closed(arrivalNow())
    const state = intake.state(process.hrtime.bigint())
    if (state.lines !== lines || state.rejected > 0)
      throw new Error(`only ${state.lines} of ${lines} lines recorded`)
    const linesPerCpuS = lines / (cpuMicroS / 1e6)
    return { lines, linesPerCpuS, timesNeeded: linesPerCpuS / neededLinesPerS, growthMB }
  } finally {
    recording.close()
    rmSync(folder, { recursive: true })
  }
}

function loggerLines(from: number, count: number): Buffer {
  let text = ''
  for (let i = from; i < from + count; i++) {
    const p1 = (68_947 - i * 1e-3).toFixed(2)
    const p2 = (68_940 - i * 1e-3).toFixed(2)
    text += `logger,port=a seq=${i}i,p1=${p1},p2=${p2},t1=21.125,baro=1013.2${i % 10}\n`
  }
  return Buffer.from(text)
}

/** What is alive after a collection; without `--expose-gc` what the heap uses. */
function settledHeapBytes(): number {
  globalThis.gc?.()
  return process.memoryUsage().heapUsed
}
