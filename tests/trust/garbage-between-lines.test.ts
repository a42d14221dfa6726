import { readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, it } from 'vitest'
import { seededRandom } from '#ingest/simulator/random.ts'
import { emptyFolder } from '#tests/dashboard/archive/bench-archive.ts'
import { fedBench } from './fed-bench.ts'
import { FedPort } from './fed-port.ts'

/** Bytes with no order in them, of all 256 values, line feeds too. */
function noise(length: number, seed: number): Buffer {
  const random = seededRandom(seed)
  return Buffer.from(Array.from({ length }, () => Math.floor(random.uniform(0, 256))))
}

const garbage: readonly [string, string | Buffer][] = [
  ['noise', noise(20_000, 1)],
  ['more noise', noise(20_000, 2)],
  ['a line of ten megabytes', 'x'.repeat(10_000_000)],
  ['zeros', Buffer.alloc(4096)],
  ['half a line', 'logger p0=1'],
  ['a request of the web', 'GET / HTTP/1.1\r\nHost: bench\r\n\r\n'],
  ['numbers that are none', 'logger p0=NaN,p1=1e999'],
  ['a time beyond all years', 'logger p0=1 99999999999999999999999'],
  ['tags without end', 'logger,='.repeat(3000)],
  ['brackets without end', `{"p0":${'['.repeat(60_000)}`],
  ['a quote that is not closed', `logger p0="${'a'.repeat(60_000)}`],
  ['a wrong encoding', Buffer.from('logger p0=20,0 °C\n', 'utf16le')],
]

it('serve keeps every good line whatever came between them, and every byte of the rest as rejected', async () => {
  const folder = emptyFolder()
  const port = new FedPort()
  const bench = await fedBench(folder, port)
  let good = 0
  try {
    for (const [, bytes] of garbage) {
      for (let line = 0; line < 30; line++, good++) {
        port.nowS += 0.1
        port.say(`logger p0=${good}.5,n=${good}i ${port.timeNs(port.nowS)}\n`)
      }
      port.say(bytes)
      port.say('\n')
    }
    expect(bench.session.state().newest.p0?.reading).toBe((good - 0.5) * 1000)
  } finally {
    await bench.stop()
  }
  const session = join(folder, 'data', 'session')
  const text = readdirSync(session)
    .filter((name) => name.endsWith('.lp'))
    .map((name) => readFileSync(join(session, name), 'utf8'))
    .join('')
  const kept = [...text.matchAll(/^logger p0=\d+\.5,n=(\d+)i /gm)].map(([, n]) => Number(n))
  expect(kept).toEqual(Array.from({ length: good }, (_, n) => n))
  const rest = text.split('\n').filter((line) => line !== '' && !line.startsWith('logger p0='))
  expect(rest.filter((line) => !/^(#|mark,kind=(fault|gap|note))/.test(line))).toEqual([])
  expect(text.length).toBeGreaterThan(10_000_000)
  expect(text.match(/^mark,kind=fault .*code="line-too-long"/gm)).toHaveLength(1)
})
