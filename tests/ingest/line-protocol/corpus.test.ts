import { describe, expect, it } from 'vitest'
import { formatPoint } from '#ingest/line-protocol/format-point.ts'
import type { Field, Point, Precision } from '#ingest/line-protocol/point.ts'
import corpus from './corpus.json' with { type: 'json' }
import { readPoints } from './read-points.ts'

/**
 * The corpus is written against grammar.ebnf. A case is text (or bytes in hexadecimal) with every point, refusal and
 * comment it must give, and nothing else. Numbers are text: floats are compared with the result of the JavaScript
 * engine, which rounds correctly.
 */
interface Case {
  readonly name: string
  readonly text?: string
  readonly hex?: string
  readonly precision?: Precision
  readonly points: {
    readonly measurement: string
    readonly tags: Readonly<Record<string, string>>
    readonly fields: readonly (readonly [key: string, type: string, value: string | boolean])[]
    readonly time: string | null
  }[]
  readonly refused?: { readonly line: number; readonly column: number; readonly cause: string }[]
  readonly comments?: string[]
}

const cases = corpus as unknown as Case[]

function expectedPoint({ measurement, tags, fields, time }: Case['points'][number]): Point {
  const read = fields.map(([key, type, value]) => {
    if (type === 'float') return { key, type, value: Number(value) }
    if (type === 'integer' || type === 'unsigned') return { key, type, value: BigInt(value) }
    return { key, type, value }
  })
  return { measurement, tags, fields: read as Field[], timeNs: time }
}

/** The reader's tags have no prototype: compared by their entries, so that no name is lost. */
function comparable(points: readonly Point[]) {
  return points.map((point) => ({ ...point, tags: Object.entries(point.tags) }))
}

describe('PointReader on the corpus', () => {
  it('the corpus has at least 200 cases with unique names', () => {
    expect(cases.length).toBeGreaterThanOrEqual(200)
    expect(new Set(cases.map(({ name }) => name)).size).toBe(cases.length)
  })

  it.each(cases.map((one) => [one.name, one] as const))('%s', (_, one) => {
    const bytes = one.hex === undefined ? Buffer.from(one.text!) : Buffer.from(one.hex, 'hex')
    const whole = readPoints(bytes, [bytes.length + 1], one.precision)
    expect(comparable(whole.points)).toEqual(comparable(one.points.map(expectedPoint)))
    expect(whole.refused.map(({ line, column, cause }) => ({ line, column, cause }))).toEqual(
      one.refused ?? [],
    )
    expect(whole.comments).toEqual(one.comments ?? [])
    for (const size of [1, 2, 7]) expect(readPoints(bytes, [size], one.precision)).toEqual(whole)

    const lines = whole.points.map((point) => `${formatPoint(point)}\n`).join('')
    expect(readPoints(Buffer.from(lines), [64])).toEqual({ points: whole.points, refused: [], comments: [] })
  })
})
