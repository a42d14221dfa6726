import type { Context } from 'hono'
import * as v from 'valibot'
import { operatorMarks } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { type DisplayUnits, unitsNamed, unitsOfSystem } from '#analysis/reasons/figures.ts'
import type { LostAnswer, NewMark, StartHold } from '#dashboard/api.ts'
import { RequestError } from './request-error.ts'

const name = v.pipe(v.string(), v.trim(), v.maxLength(80, 'is longer than 80 characters'))
const id = v.pipe(v.string(), v.regex(/^[\w.@-]{1,100}$/, 'is no id'))
/** Free text goes into one line of the recording. */
const words = v.pipe(
  v.string(),
  v.maxLength(500, 'is longer than 500 characters'),
  v.regex(/^[^\p{Cc}]*$/u, 'holds a line break or another control character'),
)
/** Who did it; an empty name is none. */
export const personOrNone = v.pipe(
  v.optional(v.nullable(name), null),
  v.transform((text) => text || null),
)

export const startHoldBody = v.strictObject({
  hold: id,
  operator: personOrNone,
  witness: personOrNone,
  stateSheet: v.optional(v.pipe(v.array(words), v.maxLength(50, 'has more than 50 items')), []),
  dry: v.optional(v.boolean(), true),
  retests: v.optional(v.nullable(id), null),
}) satisfies v.GenericSchema<unknown, StartHold>

export const stageBody = v.strictObject({
  stage: v.picklist(['settle', 'hold', 'vent', 'end']),
  reason: v.optional(words),
})
export const lostBody = v.strictObject({
  answer: v.picklist(['vented', 'let-go', 'unknown', 'still-holding']),
}) satisfies v.GenericSchema<unknown, { readonly answer: LostAnswer }>

export const markBody = v.strictObject({
  kind: v.picklist(([...operatorMarks, 'correction'] as const).filter((kind) => kind !== 'stage')),
  id: v.optional(id),
  key: v.optional(v.pipe(v.string(), v.regex(/^[\w-]{8,64}$/, 'is no key'))),
  agoS: v.optional(
    v.pipe(v.number(), v.minValue(0, 'lies ahead'), v.maxValue(7 * 86_400, 'is older than a week')),
  ),
  fields: v.pipe(
    v.record(
      v.pipe(v.string(), v.regex(/^[A-Za-z][\w]{0,39}$/, 'is no field name')),
      v.union([words, v.pipe(v.number(), v.finite()), v.boolean()]),
    ),
    v.check((fields) => Object.keys(fields).length <= 20, 'has more than 20 fields'),
  ),
}) satisfies v.GenericSchema<unknown, NewMark>

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

/** First bytes of the formats that phones and cameras write, and where they stand. */
const signatures: readonly (readonly [at: number, bytes: readonly number[]])[] = [
  [0, [0xff, 0xd8, 0xff]], // JPEG
  [0, [0x89, 0x50, 0x4e, 0x47]], // PNG
  [8, [0x57, 0x45, 0x42, 0x50]], // WebP: RIFF....WEBP
  [4, [0x66, 0x74, 0x79, 0x70]], // HEIC, AVIF: ....ftyp
]

/** A picture as base64 text, told by its first bytes. */
export const picture = v.pipe(
  v.string(),
  v.regex(/^[A-Za-z0-9+/]+=*$/, 'is no base64'),
  v.transform((text) => new Uint8Array(Buffer.from(text, 'base64'))),
  v.check(
    (bytes) => signatures.some(([at, wanted]) => wanted.every((byte, i) => bytes[at + i] === byte)),
    'is no JPEG, PNG, WebP or HEIC picture',
  ),
)

export const photoBody = v.strictObject({ fitting: v.nullable(id), base64: picture })
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

/** @throws RequestError 400 with the first thing that is wrong */
export async function readBody<S extends v.GenericSchema>(
  context: Context,
  schema: S,
): Promise<v.InferOutput<S>> {
  let body: unknown
  try {
    body = await context.req.json()
  } catch {
    throw new RequestError(400, 'The request is not JSON.')
  }
  const outcome = v.safeParse(schema, body, { abortEarly: true })
  if (outcome.success) return outcome.output
  const [issue] = outcome.issues
  throw new RequestError(
    400,
    `The request is not understood: ${v.getDotPath(issue) ?? 'body'} ${issue.message}.`,
  )
}

/** @throws RequestError 400 when the parameter is no number or out of its bounds */
export function readNumber(
  context: Context,
  name: string,
  absent: number,
  low = Number.NEGATIVE_INFINITY,
  high = Number.POSITIVE_INFINITY,
): number {
  const text = context.req.query(name)
  if (text === undefined || text === '') return absent
  const value = Number(text)
  if (!Number.isFinite(value) || value < low || value > high) {
    throw new RequestError(400, `${name}=${text.slice(0, 40)} is no number between ${low} and ${high}.`)
  }
  return value
}

/**
 * The reader's units, as the query `units=psi,degF,US gal` names them; those of the aircraft without it.
 *
 * @throws RequestError 400 that names what is no unit
 */
export function readUnits(context: Context, system: System, hold?: string): DisplayUnits {
  const own = unitsOfSystem(system, system.holds.find(({ id }) => id === hold)?.sections)
  try {
    return unitsNamed(context.req.query('units') ?? '', own)
  } catch (cause) {
    throw new RequestError(400, `units=: ${(cause as RangeError).message}.`)
  }
}
