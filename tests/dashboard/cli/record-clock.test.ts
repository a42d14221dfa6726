import { mkdtempSync, readFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { expect, it } from 'vitest'
import { RecordSession } from '#dashboard/cli/record-session.ts'

const startNs = 1767225600000000000n

/** What `record` writes and says of a logger that stamps its lines itself, one a second for five minutes. */
function recorded(loggerS: (ourS: number) => number): { text: string; said: string[] } {
  const path = join(mkdtempSync(join(tmpdir(), 'stillhold-')), 'a.lp')
  const said: string[] = []
  const session = new RecordSession({
    out: path,
    system: null,
    say: (message) => said.push(message),
    stop: () => {},
    clock: () => ({ wallNs: startNs, monotonicNs: 0n }),
  })
  const port = session.listen({
    port: { name: 'bench', joinsMidLine: true, async open() {}, async close() {} },
  })
  for (let s = 0; s < 300; s++) {
    const timeNs = String(startNs + BigInt(Math.round(loggerS(s) * 1e9)))
    const monotonicNs = BigInt(s) * 1_000_000_000n
    port.bytes(Buffer.from(`logger p1=10 ${timeNs}\n`), { wallNs: startNs + monotonicNs, monotonicNs })
  }
  session.recording.close()
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
