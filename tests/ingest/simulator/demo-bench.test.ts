import { readFileSync } from 'node:fs'
import { beforeEach, describe, expect, test } from 'vitest'
import { DemoBench, type DemoBenchOptions } from '#ingest/sources/demo-bench.ts'
import { demoSession } from '#ingest/sources/demo-session.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'

const system = systemFromFile(
  readFileSync(new URL('../../../recordings/floatplane.yaml', import.meta.url), 'utf8'),
  'floatplane.yaml',
)
const startNs = 1767225600000000000n

interface Bench {
  readonly bench: DemoBench
  readonly text: () => string
  readonly events: string[]
}

/** A bench with a stopped clock: time passes only by `advance`. */
async function benchWith(options: Partial<DemoBenchOptions> = {}): Promise<Bench> {
  const bench = new DemoBench({ system, startNs, seed: 5, ...options })
  let text = ''
  const events: string[] = []
  await bench.open({
    opened: () => events.push('opened'),
    bytes: (chunk) => {
      text += new TextDecoder().decode(chunk)
    },
    closed: () => events.push('closed'),
    fault: (fault) => events.push(fault.code),
  })
  return { bench, text: () => text, events }
}

function readings(text: string, field: string): number[] {
  return text
    .trim()
    .split('\n')
    .map((line) => Number(new RegExp(`${field}=([-0-9.e]+)`).exec(line)?.[1]))
}

function playHold({ bench, text }: Bench, hold: string): number {
  const from = () => text().length
  bench.command('pump-up', hold)
  while (!bench.atPressure) bench.advance(1)
  bench.command('settle', hold)
  bench.advance(180)
  bench.command('hold', hold)
  const mark = from()
  bench.advance(600)
  const [first, ...rest] = readings(text().slice(mark), 'p3')
  bench.command('vent', hold)
  bench.advance(30)
  bench.command('end', hold)
  return first - rest[rest.length - 1]
}

describe('DemoBench', () => {
  let made: Bench
  beforeEach(async () => {
    made = await benchWith()
    return () => made.bench.close()
  })

  test('the flare F12 loses 3 allowances of 0.1 psi, and after tightening almost nothing', () => {
    made.bench.advance(20)
    const leaking = playHold(made, 'feed-lines-10psi')
    made.bench.tighten('F12')
    const tight = playHold(made, 'feed-lines-10psi')
    expect(leaking).toBeGreaterThan(0.2)
    expect(leaking).toBeLessThan(0.45)
    expect(Math.abs(tight)).toBeLessThan(0.08)
  })

  test('each line is line protocol with all eleven fields and the time of the bench', () => {
    made.bench.advance(10)
    const lines = made.text().trim().split('\n')
    expect(lines.length).toBeGreaterThanOrEqual(20)
    for (const [i, line] of lines.entries()) {
      expect(line).toMatch(/^logger (\w+=-?[0-9.e-]+,){10}baro=[0-9.]+ \d{19}$/)
      expect(line.endsWith(String(startNs + BigInt(i) * 500_000_000n))).toBe(true)
    }
  })

  test('advance: many small steps give the same lines as one long one', async () => {
    const other = await benchWith()
    made.bench.advance(30)
    for (let i = 0; i < 300; i++) other.bench.advance(0.1)
    await other.bench.close()
    const length = Math.min(made.text().length, other.text().length)
    expect(length).toBeGreaterThan(5000)
    expect(other.text().slice(0, length)).toBe(made.text().slice(0, length))
  })

  test('an open valve equalizes two sections; a shut one keeps them apart', () => {
    made.bench.advance(5)
    made.bench.command('pump-up', 'feed-lines-10psi')
    while (!made.bench.atPressure) made.bench.advance(1)
    made.bench.command('settle', 'feed-lines-10psi')
    made.bench.advance(60)
    expect(made.bench.world.gaugePa('firewall-forward')).toBeLessThan(1000)
    made.bench.openValve('V3')
    made.bench.advance(300)
    const apartPa = made.bench.world.gaugePa('feed-lines') - made.bench.world.gaugePa('firewall-forward')
    expect(Math.abs(apartPa)).toBeLessThan(50)
    expect(made.bench.world.gaugePa('firewall-forward')).toBeGreaterThan(20_000)
  })

  test('look: bubbles where it leaks under pressure, dry elsewhere and without pressure', () => {
    expect(made.bench.look('F12')).toBe('dry')
    made.bench.command('pump-up', 'feed-lines-10psi')
    made.bench.advance(40)
    expect(made.bench.look('F12')).toBe('bubbles')
    expect(made.bench.look('F11')).toBe('dry')
  })

  test('a hold or valve that the system file does not have is refused by name', () => {
    expect(() => made.bench.command('hold', 'no-such-hold')).toThrow("no hold 'no-such-hold'")
    expect(() => made.bench.openValve('V9')).toThrow("no valve 'V9'")
  })

  test('open and close are reported once each, and nothing comes after the close', async () => {
    made.bench.advance(2)
    await made.bench.close()
    const { length } = made.text()
    made.bench.advance(10)
    expect(made.text().length).toBe(length)
    expect(made.events).toEqual(['opened', 'closed'])
  })
})

test('demoSession: names only holds and fittings of the demo system file, and covers every section', () => {
  const holds = demoSession.flatMap((step) => (step.kind === 'hold' ? [step.hold] : []))
  const fittings = demoSession.flatMap((step) => (step.kind === 'hold' ? step.looks : [step.fitting]))
  expect(fittings.length).toBeGreaterThan(0)
  for (const hold of holds) expect(system.holds.map(({ id }) => id)).toContain(hold)
  for (const fitting of fittings) expect(system.fittings.map(({ id }) => id)).toContain(fitting)
  const covered = new Set(holds.flatMap((id) => system.holds.find((hold) => hold.id === id)?.sections ?? []))
  expect([...covered].sort()).toEqual(system.sections.map(({ id }) => id).sort())
})
