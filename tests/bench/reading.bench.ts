import parseWithNpm from 'influx-line-protocol-parser'
import type { DialectName } from '#ingest/intake/dialects/dialect.ts'
import { Intake } from '#ingest/intake/intake.ts'
import { ColumnReader } from '#ingest/line-protocol/column-reader.ts'
import { arrivalNow } from '#ingest/sources/arrival-now.ts'
import type { BenchPlan } from './bench-plan.ts'

const fields = ['p1', 'p2', 't1', 'baro']
const startNs = 1_767_225_600_000_000_000n
const chunkBytes = 65_536

/** One reading of four channels. */
const numbers = (k: number) => [
  10 + Math.sin(k / 100) / 50,
  9.8 + Math.cos(k / 90) / 50,
  21 + (k % 700) / 977,
  1013.2 + (k % 10) / 97,
]
const short = (k: number) => numbers(k).map((number) => number.toFixed(4))
const named = (values: readonly (number | string)[]) =>
  values.map((value, i) => `${fields[i]}=${value}`).join(',')

/** What loggers and fleets send besides the lines of one logger with few digits. */
const mixes: readonly (readonly [name: string, series: number, fields: (k: number) => string])[] = [
  ['20 series in turn', 20, (k) => named(short(k))],
  ['200 series in turn', 200, (k) => named(short(k))],
  ['16 to 17 digits', 1, (k) => named(numbers(k))],
  ['a string on each line', 1, (k) => `${named(short(k))},state="ok ${k % 17}"`],
  ['a boolean on each line', 1, (k) => `${named(short(k))},pump=${k % 3 === 0}`],
]

const columns = mixes.map(
  ([name, series, line]): BenchPlan =>
    (quick) => {
      const lines = Array.from(
        { length: quick ? 5_000 : 60_000 },
        (_, k) => `logger,port=p${k % series} ${line(k)} ${startNs + BigInt(k) * 10_000_000n}\n`,
      )
      const bytes = Buffer.from(lines.join(''))
      const wanted = Array.from({ length: series }, (_, port) =>
        fields.map((field) => ({ measurement: 'logger', field, tags: { port: `p${port}` } })),
      ).flat()
      return {
        kind: 'race',
        name: `line protocol to typed columns, ${name}: ${lines.length} lines`,
        run: () => readColumns(bytes, wanted),
        rivals: [{ name: 'influx-line-protocol-parser', run: () => lines.map(parseWithNpm), goal: 12 }],
      }
    },
)

function readColumns(bytes: Uint8Array, wanted: ConstructorParameters<typeof ColumnReader>[0]): number {
  const refused = ({ cause }: { readonly cause: string }) => {
    throw new Error(cause)
  }
  const reader = new ColumnReader(wanted, { other() {}, refused }, { totalBytes: bytes.length })
  for (let at = 0; at < bytes.length; at += chunkBytes) reader.push(bytes.subarray(at, at + chunkBytes))
  reader.end()
  return reader.columns[0].count
}

/** Each dialect against a few lines of script that trust the logger: no check, no time, no line for the recording. */
const dialects: readonly (readonly [DialectName, (k: number) => string, (line: string) => object])[] = [
  [
    'csv',
    (k) => short(k).join(','),
    (line) => Object.fromEntries(line.split(',').map((cell, i) => [fields[i], Number(cell)])),
  ],
  [
    'key-value',
    (k) => named(short(k)),
    (line) =>
      Object.fromEntries(
        line
          .split(',')
          .map((part) => part.split('='))
          .map(([key, value]) => [key, Number(value)]),
      ),
  ],
  ['json-lines', (k) => `{${short(k).map((value, i) => `"${fields[i]}":${value}`)}}`, JSON.parse],
]

const intakes = dialects.map(
  ([dialect, line, naive]): BenchPlan =>
    (quick) => {
      const lines = Array.from({ length: quick ? 5_000 : 50_000 }, (_, k) => line(k))
      const bytes = Buffer.from(`${lines.join('\n')}\n`)
      return {
        kind: 'race',
        name: `${dialect} to points and lines of a recording: ${lines.length} lines`,
        run: () => takeIn(bytes, dialect, lines.length),
        rivals: [
          {
            name: 'naive split to objects',
            run: () => {
              let count = 0
              for (const text of bytes.toString('utf8').split('\n'))
                if (text !== '') count += Object.keys(naive(text)).length
              return count
            },
            goal: 0.5,
          },
        ],
      }
    },
)

function takeIn(bytes: Uint8Array, dialect: DialectName, count: number): number {
  let taken = 0
  const intake = new Intake({
    port: 'bench',
    dialect,
    sink: { point: () => taken++, reject() {}, comment() {}, mark() {} },
  })
  intake.opened(arrivalNow())
  for (let at = 0; at < bytes.length; at += chunkBytes)
    intake.bytes(bytes.subarray(at, at + chunkBytes), arrivalNow())
  intake.closed(arrivalNow())
  if (taken !== count) throw new Error(`${taken} of ${count} lines taken`)
  return taken
}

export const plans: readonly BenchPlan[] = [...columns, ...intakes]
