import type { DialectQuantity } from './dialect.ts'

/**
 * Separates a label from its unit: `p1 [psi]`, `T (°C)` and `baro[hPa]` contain a unit, `p_psi` is a name.
 *
 * The unit is only shown beside the channel. Conversion uses the unit of the system file.
 */
export function readLabel(text: string): DialectQuantity {
  const label = text
    .trim()
    .replace(/^"(.*)"$/, '$1')
    .trim()
  const isClosed = label.endsWith(']') || label.endsWith(')')
  const before = label.slice(0, -1)
  // The unit's bracket is the first one that closes only at the end.
  const closedTo = Math.max(before.lastIndexOf(']'), before.lastIndexOf(')')) + 1
  const openAt = before.slice(closedTo).search(/[[(]/)
  if (!isClosed || openAt === -1 || closedTo + openAt === 0) return { name: fieldName(label), unit: null }
  const unit = before.slice(closedTo + openAt + 1).trim()
  return { name: fieldName(before.slice(0, closedTo + openAt)), unit: unit === '' ? null : unit }
}

/** `oil temp` becomes `oil_temp`: a space would need an escape in every later query. */
function fieldName(label: string): string {
  return label.trim().replace(/\s+/g, '_')
}
