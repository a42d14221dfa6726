import { existsSync, readFileSync, writeFileSync } from 'node:fs'
import { isDeepStrictEqual } from 'node:util'

/** Digits of a kept figure: a constant that moves by a percent shows, the last bits of another machine do not. */
const digits = 5

/** A result as a file keeps it: its numbers to five significant digits. */
export function kept(result: unknown): unknown {
  return JSON.parse(
    JSON.stringify(result, (_, one) => (typeof one === 'number' ? Number(one.toPrecision(digits)) : one)),
  )
}

/** Writes the results of cases where they differ from those of the file. Returns whether they did. */
export function writeKept(file: string, cases: ReadonlyMap<string, () => unknown>): boolean {
  const now = kept(Object.fromEntries([...cases].map(([name, result]) => [name, result()])))
  if (existsSync(file) && isDeepStrictEqual(JSON.parse(readFileSync(file, 'utf8')), now)) return false
  writeFileSync(file, `${laidOut(now, '')}\n`)
  return true
}

/** Longest line that holds a whole object or list: a figure that moves is one line of a difference. */
const lineLength = 240

function laidOut(value: unknown, indent: string): string {
  const line = JSON.stringify(value)
  if (typeof value !== 'object' || value === null || line.length <= lineLength) return line
  const inner = `${indent}  `
  const parts = Array.isArray(value)
    ? value.map((one) => laidOut(one, inner))
    : Object.entries(value).map(([key, one]) => `${JSON.stringify(key)}: ${laidOut(one, inner)}`)
  const [open, close] = Array.isArray(value) ? '[]' : '{}'
  return `${open}\n${inner}${parts.join(`,\n${inner}`)}\n${indent}${close}`
}
