import * as v from 'valibot'
import { operatorMarks } from '#analysis/model/samples.ts'

const name = v.pipe(v.string(), v.trim(), v.maxLength(80, 'is longer than 80 characters'))
export const id = v.pipe(v.string(), v.regex(/^[\w.@-]{1,100}$/, 'is no id'))
/** Free text is written into one line of the recording. */
export const words = v.pipe(
  v.string(),
  v.maxLength(500, 'is longer than 500 characters'),
  v.regex(/^[^\p{Cc}]*$/u, 'contains a line break or another control character'),
)
/** The operator; an empty name counts as none. */
export const personOrNone = v.pipe(
  v.optional(v.nullable(name), null),
  v.transform((text) => text || null),
)

export const startHoldBody = v.strictObject({
  hold: id,
  operator: personOrNone,
  witness: personOrNone,
  /** The operator's checklist, item by item, in words. */
  stateSheet: v.optional(v.pipe(v.array(words), v.maxLength(50, 'has more than 50 items'), v.readonly()), []),
  /** False where fuel or its vapor is in a gas section: such a hold cannot pass. */
  dry: v.optional(v.boolean(), true),
  retests: v.optional(v.nullable(id), null),
})

export const stageBody = v.strictObject({
  stage: v.picklist(['settle', 'hold', 'vent', 'end']),
  reason: v.optional(words),
})
/** Cause of the pressure loss: an unmarked vent, a failed joint, unknown, or none because the section still holds pressure. */
export const lostBody = v.strictObject({
  answer: v.picklist(['vented', 'let-go', 'unknown', 'still-holding']),
})

export const markBody = v.strictObject({
  kind: v.picklist(([...operatorMarks, 'correction'] as const).filter((kind) => kind !== 'stage')),
  id: v.optional(id),
  /** Idempotency key of the mark: a phone that got no answer sends it again. */
  key: v.optional(v.pipe(v.string(), v.regex(/^[\w-]{8,64}$/, 'is no key'))),
  /** Aircraft of the mark: a mark queued on a phone must not reach another aircraft. */
  aircraft: v.optional(name),
  /** Age of the mark when sent, for a phone that had no network, [s]. */
  agoS: v.optional(
    v.pipe(v.number(), v.minValue(0, 'is in the future'), v.maxValue(7 * 86_400, 'is older than a week')),
  ),
  /** For a correction: the time of the mark that it withdraws, epoch nanoseconds as text. */
  fields: v.pipe(
    v.record(
      v.pipe(v.string(), v.regex(/^[A-Za-z][\w]{0,39}$/, 'is no field name')),
      v.union([words, v.pipe(v.number(), v.finite()), v.boolean()]),
    ),
    v.check((fields) => Object.keys(fields).length <= 20, 'has more than 20 fields'),
  ),
})

export const typedBody = v.strictObject({
  readings: v.pipe(
    v.record(id, v.pipe(v.number(), v.finite())),
    v.check(
      (all) => Object.keys(all).length > 0 && Object.keys(all).length <= 20,
      'has no reading, or more than 20',
    ),
  ),
})

export const systemBody = v.strictObject({ text: v.string() })
export const planBody = v.strictObject({ hold: id })
export const demoBody = v.strictObject({ operator: v.picklist(['automatic', 'you']) })
export const portBody = v.strictObject({ name: v.pipe(v.string(), v.maxLength(500)) })

export const portFixBody = v.strictObject({
  name: v.pipe(v.string(), v.maxLength(500)),
  baudRate: v.optional(v.pipe(v.number(), v.integer(), v.minValue(300), v.maxValue(4_000_000))),
  columns: v.optional(
    v.pipe(
      v.array(v.pipe(v.string(), v.regex(/^[A-Za-z]\w{0,39}$/, 'is no name of a column'))),
      v.maxLength(100, 'has more than 100 names'),
    ),
  ),
})
