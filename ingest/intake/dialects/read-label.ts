import type { DialectQuantity } from './dialect.ts'

/**
 * Parts a label from the unit written in it: `p1 [psi]`, `T (°C)` and `baro[hPa]` name a unit, `p_psi` is a name.
 *
 * The unit is never used to convert: it is shown beside the channel, and the system file's unit decides.
 */
export function readLabel(text: string): DialectQuantity {
  const label = text
    .trim()
    .replace(/^"(.*)"$/, '$1')
    .trim()
  const isClosed = label.endsWith(']') || label.endsWith(')')
  const before = label.slice(0, -1)
  // The unit's bracket is the first one that is not closed before the end.
  const closedTo = Math.max(before.lastIndexOf(']'), before.lastIndexOf(')')) + 1
  const openAt = before.slice(closedTo).search(/[[(]/)
  if (!isClosed || openAt === -1 || closedTo + openAt === 0) return { name: fieldName(label), unit: null }
  const unit = before.slice(closedTo + openAt + 1).trim()
  return { name: fieldName(before.slice(0, closedTo + openAt)), unit: unit === '' ? null : unit }
}

/** Spaces inside a label would need an escape in every later query: `oil temp` becomes `oil_temp`. */
function fieldName(label: string): string {
  return label.trim().replace(/\s+/g, '_')
}
