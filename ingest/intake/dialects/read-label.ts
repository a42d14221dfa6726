import type { DialectQuantity } from './dialect.ts'

const bracketed = /^(.*?)\s*[[(]\s*([^\])]*?)\s*[\])]$/

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
  const match = bracketed.exec(label)
  if (match === null || match[1] === '') return { name: fieldName(label), unit: null }
  return { name: fieldName(match[1]), unit: match[2] === '' ? null : match[2] }
}

/** Spaces inside a label would need an escape in every later query: `oil temp` becomes `oil_temp`. */
function fieldName(label: string): string {
  return label.trim().replace(/\s+/g, '_')
}
