import fc from 'fast-check'
import type { Field, Point } from '#ingest/line-protocol/point.ts'

/** Characters that escaping and splitting must handle, more frequent than by chance. */
const telling = fc.constantFrom(',', '=', ' ', '\\', '"', '#', 'é', '💧', 'a', 'Z', '0', '.', '-', '_', "'")
const character = fc.oneof(telling, fc.string({ unit: 'grapheme', minLength: 1, maxLength: 1 }))

const name = fc
  .array(character, { minLength: 1, maxLength: 8 })
  .map((characters) => characters.join(''))
  .filter((text) => !/[\0-\x1f\x7f]/.test(text) && !text.endsWith('\\'))

const text = fc
  .array(fc.oneof(character, fc.constantFrom('\n', '\r', '\t', '\0', '\\n')), { maxLength: 12 })
  .map((characters) => characters.join(''))

const float = fc.oneof(
  fc.double({ noNaN: true, noDefaultInfinity: true }),
  fc
    .tuple(fc.integer({ min: -9_999_999, max: 9_999_999 }), fc.integer({ min: 0, max: 6 }))
    .map(([n, d]) => n / 10 ** d),
)

function field(key: string): fc.Arbitrary<Field> {
  return fc.oneof(
    float.map((value): Field => ({ key, type: 'float', value })),
    fc
      .bigInt({ min: -(2n ** 63n), max: 2n ** 63n - 1n })
      .map((value): Field => ({ key, type: 'integer', value })),
    fc.bigInt({ min: 0n, max: 2n ** 64n - 1n }).map((value): Field => ({ key, type: 'unsigned', value })),
    fc.boolean().map((value): Field => ({ key, type: 'boolean', value })),
    text.map((value): Field => ({ key, type: 'string', value })),
  )
}

const fields = fc
  .uniqueArray(name, { minLength: 1, maxLength: 5 })
  .chain((keys) => fc.tuple(...keys.map((key) => field(key))))

const time = fc.option(fc.bigInt({ min: -(2n ** 63n), max: 2n ** 63n - 1n }).map(String), { nil: null })

/** Any point that line protocol can express. */
export const arbitraryPoint: fc.Arbitrary<Point> = fc.record({
  measurement: name.filter((measurement) => !measurement.startsWith('#')),
  tags: fc
    .uniqueArray(fc.tuple(name, name), { maxLength: 4, selector: ([key]) => key })
    .map((entries) => Object.fromEntries(entries)),
  fields,
  timeNs: time,
})
