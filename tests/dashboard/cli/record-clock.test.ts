import { mkdtempSync, readFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { expect, it } from 'vitest'
import { RecordSession } from '#dashboard/cli/record-session.ts'
import type { Point } from '#ingest/line-protocol/point.ts'
import { RecordingWriter } from '#ingest/recording/recording-writer.ts'

const startNs = 1767225600000000000n

/** What `record` writes and says of a logger that stamps its lines itself, one a second for five minutes. */
function recorded(loggerS: (ourS: number) => number): { text: string; said: string[] } {
  const path = join(mkdtempSync(join(tmpdir(), 'stillhold-')), 'a.lp')
  const now = { wallNs: startNs, monotonicNs: 0n }
  const recording = new RecordingWriter(path, { clock: () => now })
  const said: string[] = []
  const session = new RecordSession({
    recording,
    system: null,
    forwarder: null,
    hold: null,
    planned: [],
    say: (message) => said.push(message),
    finished: () => {},
  })
  const sink = session.sink('bench')
  for (let s = 0; s < 300; s++) {
    const timeNs = String(startNs + BigInt(Math.round(loggerS(s) * 1e9)))
    const point: Point = {
      measurement: 'logger',
      tags: {},
      fields: [{ key: 'p1', type: 'float', value: 10 }],
      timeNs,
    }
    const monotonicNs = BigInt(s) * 1_000_000_000n
    sink.point(point, `logger p1=10 ${timeNs}`, { wallNs: startNs + monotonicNs, monotonicNs })
  }
  recording.close()
  return { text: readFileSync(path, 'utf8'), said }
}

it('record marks a logger whose clock runs a tenth fast: on it a leak looks smaller', () => {
  const { text, said } = recorded((s) => 1.1 * s)
  expect(text).toMatch(/^mark,kind=clock .*fast_percent=10/m)
  expect(said[0]).toMatch(/runs 10 % fast/)
})

it('record says nothing of a clock that is right', () => {
  const { text, said } = recorded((s) => s + 0.2 * Math.sin(s))
  expect(text).not.toContain('kind=clock')
  expect(said).toEqual([])
})
