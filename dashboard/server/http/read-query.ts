import type { Context } from 'hono'
import { RequestError } from './request-error.ts'

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
