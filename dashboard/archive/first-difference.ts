/** Relative tolerance of numbers: another machine may round the last digits differently. */
const relativeTolerance = 1e-6

/** Members with wording for people, which a newer version may improve. */
const words: ReadonlySet<string> = new Set(['message', 'text', 'source'])

/**
 * The first difference of two results, as words; null when every number and every code agrees. A member that only one
 * of the two has is also a difference.
 */
export function firstDifference(sealed: unknown, now: unknown, at = ''): string | null {
  if (typeof sealed === 'number' && typeof now === 'number') {
    const same = Math.abs(sealed - now) <= relativeTolerance * Math.max(Math.abs(sealed), Math.abs(now))
    return same ? null : differ(at, sealed, now)
  }
  if (!isTree(sealed) || !isTree(now)) return Object.is(sealed, now) ? null : differ(at, sealed, now)
  const keys = new Set([...Object.keys(sealed), ...Object.keys(now)])
  for (const key of keys) {
    if (words.has(key)) continue
    const place = at === '' ? key : `${at} ${key}`
    const found = firstDifference(sealed[key], now[key], place)
    if (found !== null) return found
  }
  return null
}

function isTree(value: unknown): value is Readonly<Record<string, unknown>> {
  return typeof value === 'object' && value !== null
}

function differ(at: string, a: unknown, b: unknown): string {
  const say = (value: unknown): string =>
    value === undefined
      ? 'none'
      : typeof value === 'number'
        ? String(Number(value.toPrecision(6)))
        : isTree(value)
          ? 'a list'
          : String(value)
  return `${at} sealed as ${say(a)}, computed now as ${say(b)}`
}
