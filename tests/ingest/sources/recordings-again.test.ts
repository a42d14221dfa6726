import { mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { describe, expect, test } from 'vitest'
import { Intake } from '#ingest/intake/intake.ts'
import { openRecording } from '#ingest/recording/recording-writer.ts'
import { arrivalNow } from '#ingest/sources/arrival-now.ts'
import type { Port } from '#ingest/sources/port.ts'
import { replayPort } from '#ingest/sources/replay-port.ts'
import { serialPort } from '#ingest/sources/serial-port.ts'
import { hasSocat, PseudoTerminal, until } from './pseudo-terminal.ts'

const recordings = fileURLToPath(new URL('../../../recordings', import.meta.url))
const names = readdirSync(recordings).filter((name) => name.endsWith('.lp'))
const linesOf = (path: string) => readFileSync(path, 'utf8').trimEnd().split('\n')
const withoutFaults = (lines: string[]) => lines.filter((line) => !/^mark,kind=(?:fault|gap)[ ,]/.test(line))

/** Records a port to a new file until it has the expected length or the source ends. */
async function recordAgain(port: Port, feed: () => void, lines: number): Promise<string[]> {
  const folder = mkdtempSync(join(tmpdir(), 'again-'))
  const path = join(folder, 'again.lp')
  const recording = openRecording(path, { clock: arrivalNow })
  try {
    let written = 1
    const intake = new Intake({
      port: port.name,
      joinsMidLine: port.joinsMidLine,
      sink: {
        point: (_point, line, arrival) => {
          written++
          recording.append(line, arrival)
        },
        reject: (reason, bytes) => {
          written++
          recording.reject(reason, bytes)
        },
        comment: (text) => {
          written++
          recording.comment(text)
        },
        mark: ({ kind, fields, timeNs }) => recording.mark({ kind, fields, timeNs }),
      },
    })
    await port.open(intake)
    feed()
    await until(() => written >= lines)
    await port.close()
    recording.close()
    return linesOf(path)
  } finally {
    rmSync(folder, { recursive: true })
  }
}

describe('every demo recording, recorded again', () => {
  test.each(names)('%s: a replay gives the same lines in the same order', async (name) => {
    const path = join(recordings, name)
    const lines = linesOf(path)
    const again = await recordAgain(
      replayPort({ path, speed: Number.POSITIVE_INFINITY }),
      () => undefined,
      lines.length,
    )
    expect(again).toEqual(lines)
  })

  test.skipIf(!hasSocat || names.length === 0)(
    `${names[0]} through a real serial line${hasSocat ? '' : ' (skipped: socat is not installed)'}: the same lines`,
    async () => {
      const terminal = new PseudoTerminal()
      await terminal.plug()
      try {
        const lines = linesOf(join(recordings, names[0]))
        const port = serialPort({ path: terminal.path, baudRate: 115200 })
        const feed = () => terminal.write(readFileSync(join(recordings, names[0])))
        const again = await recordAgain(port, feed, lines.length)
        expect(withoutFaults(again).slice(0, 1)).toEqual(lines.slice(0, 1))
        expect(new Set(withoutFaults(again))).toEqual(new Set(withoutFaults(lines)))
      } finally {
        await terminal.remove()
      }
    },
  )
})
