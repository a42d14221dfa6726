import { expect, it } from 'vitest'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { plainHold, plainText } from '#tests/analysis/fit/plain-bench.ts'

const hold = plainHold('line')
const text = plainText(hold, 'line')
const plain = read(hold.system, text)

/** Columns of the line's gauge and thermometer and of the barometer, SI. */
function read(system: string, recording: string): Float64Array[] {
  const { channels } = readRecording(recording, systemFromFile(system, 'left-side.yaml'), 'a.lp')
  return ['p-line', 't-line', 'baro'].map((id) => channels.find(({ channel }) => channel === id)!.reading)
}

const field = (name: string, to: (value: number) => number) =>
  text.replace(
    new RegExp(`${name}=([-\\d.]+)`, 'g'),
    (_, value) => `${name}=${to(Number(value)).toPrecision(12)}`,
  )

/** Units a psi, NIST SP 811. */
const perPsi = {
  kPa: 6.894757293168,
  bar: 0.06894757293168,
  mbar: 68.94757293168,
  inH2O: 27.67990475,
  inHg: 2.03602,
}

it.each(Object.entries(perPsi))(
  'readRecording(the same gauge in %s) reads the same pressures',
  (unit, times) => {
    const system = hold.system.replace('field: p1 }\n    unit: psi', `field: p1 }\n    unit: ${unit}`)
    expectSame(
      read(
        system,
        field('p1', (psi) => psi * times),
      ),
      2e-5,
    )
  },
)

it.each<[string, (c: number) => number]>([
  ['degF', (c) => 1.8 * c + 32],
  ['K', (c) => c + 273.15],
])('readRecording(the same thermometer in %s) reads the same temperatures', (unit, from) => {
  const system = hold.system.replace('field: t1 }\n    unit: degC', `field: t1 }\n    unit: ${unit}`)
  expectSame(read(system, field('t1', from)), 1e-9)
})

it.each([
  ['kPa', 0.1],
  ['mbar', 1],
  ['inHg', 100 / 3386.38864],
])('readRecording(the same barometer in %s) reads the same atmosphere', (unit, times) => {
  const system = hold.system.replace('unit: hPa', `unit: ${unit}`)
  expectSame(
    read(
      system,
      field('baro', (hPa) => hPa * times),
    ),
    1e-7,
  )
})

it.each<[string, string, (psi: number) => number]>([
  ['4 to 20 mA', 'linear: [[4 mA, -3 psi], [20 mA, 30 psi]]', (psi) => 4 + ((psi + 3) / 33) * 16],
  ['counts', 'linear: [[0 count, -3 psi], [65535 count, 30 psi]]', (psi) => ((psi + 3) / 33) * 65535],
])('readRecording(the same gauge as raw %s through its scale) reads the same pressures', (_, scale, raw) => {
  const system = hold.system.replace(
    'range: -3 psi to 30 psi',
    `range: -3 psi to 30 psi\n    scale: { ${scale} }`,
  )
  expectSame(read(system, field('p1', raw)), 1e-9)
})

it('readRecording(two loggers distinguished by a tag) reads the named one', () => {
  const tagged = (name: string) =>
    `from: { measurement: logger, field: ${name}, tags: { "bench port": "a,b c" } }`
  const system = ['p1', 't1', 'baro'].reduce(
    (all, name) => all.replace(`from: { measurement: logger, field: ${name} }`, tagged(name)),
    hold.system,
  )
  const both = text.replace(
    /^logger (.*) (\d+)$/gm,
    'logger,bench\\ port=a\\,b\\ c $1 $2\nlogger,bench\\ port=d p1=3,t1=4,baro=5 $2',
  )
  expectSame(read(system, both), 0)
})

/** @param within relative tolerance of the figures above */
function expectSame(columns: readonly Float64Array[], within: number): void {
  for (const [k, column] of columns.entries()) {
    expect(column.length).toBe(plain[k].length)
    const scale = Math.max(...plain[k].map(Math.abs))
    const worst = column.reduce((most, value, i) => Math.max(most, Math.abs(value - plain[k][i])), 0)
    expect(worst / scale).toBeLessThanOrEqual(within)
  }
}
