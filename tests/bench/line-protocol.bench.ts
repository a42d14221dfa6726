import parseWithNpm from 'influx-line-protocol-parser'
import { ColumnReader } from '#ingest/line-protocol/column-reader.ts'
import { formatPoint } from '#ingest/line-protocol/format-point.ts'
import type { Point } from '#ingest/line-protocol/point.ts'
import { PointReader } from '#ingest/line-protocol/point-reader.ts'
import type { BenchPlan } from './bench-plan.ts'
import { loggerLines } from './logger-lines.ts'

const chunkBytes = 65_536
const wanted = ['p1', 'p2', 't1', 'baro'].map((field) => ({
  measurement: 'logger',
  field,
  tags: { port: 'a' },
}))

export const plans: readonly BenchPlan[] = [
  (quick) => {
    const count = quick ? 5_000 : 50_000
    const { text, json } = loggerLines(count)
    const bytes = Buffer.from(text)
    const jsonBytes = Buffer.from(json)
    return {
      kind: 'race',
      name: `line protocol to objects: ${count} lines, ${megabytes(bytes)}`,
      run: () => readObjects(bytes),
      rivals: [
        { name: 'influx-line-protocol-parser', run: () => readWithNpm(bytes), goal: 8 },
        { name: 'JSON.parse of the same as JSON lines', run: () => readJsonLines(jsonBytes), goal: 2 },
      ],
    }
  },
  (quick) => {
    const count = quick ? 5_000 : 50_000
    const bytes = Buffer.from(loggerLines(count).text)
    return {
      kind: 'race',
      name: `line protocol to typed columns: ${count} lines, ${megabytes(bytes)}`,
      run: () => readColumns(bytes),
      rivals: [
        { name: 'influx-line-protocol-parser', run: () => readWithNpm(bytes), goal: 12 },
        { name: 'our own objects', run: () => readObjects(bytes), goal: null },
        { name: 'newline scan (Buffer.indexOf)', run: () => scanNewlines(bytes), goal: 0.03 },
      ],
    }
  },
  (quick) => {
    const count = quick ? 5_000 : 50_000
    const points: Point[] = []
    const reader = new PointReader({ point: (point) => points.push(point), refused() {} })
    reader.push(Buffer.from(loggerLines(count).text))
    return {
      kind: 'race',
      name: `points to line protocol: ${count} points`,
      run: () => points.reduce((length, point) => length + formatPoint(point).length, 0),
      rivals: [
        {
          name: 'JSON.stringify of the same',
          run: () => points.reduce((length, point) => length + JSON.stringify(point).length, 0),
          goal: null,
        },
      ],
    }
  },
]

function readObjects(bytes: Uint8Array): number {
  let fields = 0
  const reader = new PointReader({
    point: (point) => {
      fields += point.fields.length
    },
    refused: ({ cause }) => {
      throw new Error(cause)
    },
  })
  for (let at = 0; at < bytes.length; at += chunkBytes) reader.push(bytes.subarray(at, at + chunkBytes))
  reader.end()
  return fields
}

function readColumns(bytes: Uint8Array): number {
  const reader = new ColumnReader(
    wanted,
    {
      other() {},
      refused: ({ cause }) => {
        throw new Error(cause)
      },
    },
    { totalBytes: bytes.length },
  )
  for (let at = 0; at < bytes.length; at += chunkBytes) reader.push(bytes.subarray(at, at + chunkBytes))
  reader.end()
  return reader.columns[0].values[7]
}

function readWithNpm(bytes: Buffer): number {
  let fields = 0
  for (const line of bytes.toString('utf8').split('\n'))
    if (line !== '') fields += parseWithNpm(line).fields.length
  return fields
}

function readJsonLines(bytes: Buffer): number {
  let length = 0
  for (const line of bytes.toString('utf8').split('\n'))
    if (line !== '') length += JSON.parse(line).time.length
  return length
}

function scanNewlines(bytes: Buffer): number {
  let lines = 0
  for (let at = bytes.indexOf(10); at !== -1; at = bytes.indexOf(10, at + 1)) lines++
  return lines
}

function megabytes(bytes: Uint8Array): string {
  return `${(bytes.length / 1e6).toFixed(1)} MB`
}
