import type { Context } from 'hono'
import * as v from 'valibot'
import type { System } from '#analysis/model/system.ts'
import { type DisplayUnits, unitsNamed, unitsOfSystem } from '#analysis/reasons/figures.ts'
import { id } from './bodies.ts'
import { RequestError } from './request-error.ts'

/** Magic bytes of the formats that phones and cameras write, with their offsets. */
const signatures: readonly (readonly [at: number, bytes: readonly number[]])[] = [
  [0, [0xff, 0xd8, 0xff]], // JPEG
  [0, [0x89, 0x50, 0x4e, 0x47]], // PNG
  [8, [0x57, 0x45, 0x42, 0x50]], // WebP: RIFF....WEBP
  [4, [0x66, 0x74, 0x79, 0x70]], // HEIC, AVIF: ....ftyp
]

/** A picture as base64 text, recognised by its first bytes. */
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

/** @throws RequestError 400 with the first error */
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

/** @throws RequestError 400 when the parameter is not a number or is out of its bounds */
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
 * The reader's units from the query `units=psi,degF,US gal`; the aircraft's units without it.
 *
 * @throws RequestError 400 that names the unknown unit
 */
export function readUnits(context: Context, system: System, hold?: string): DisplayUnits {
  const own = unitsOfSystem(system, system.holds.find(({ id }) => id === hold)?.sections)
  try {
    return unitsNamed(context.req.query('units') ?? '', own)
  } catch (cause) {
    throw new RequestError(400, `units=: ${(cause as RangeError).message}.`)
  }
}
