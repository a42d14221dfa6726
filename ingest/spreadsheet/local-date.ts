export type DateOrder = 'day-first' | 'month-first'

const months = ['jan', 'feb', 'mar', 'apr', 'may', 'jun', 'jul', 'aug', 'sep', 'oct', 'nov', 'dec']

const eitherOrder = /^(\d{1,2})([/-])(\d{1,2})\2(\d{4}|\d{2})(?!\d)/
/** Date formats at the start of a cell, with the positions of year, month and day. */
const forms: readonly (readonly [pattern: RegExp, year: number, month: number, day: number])[] = [
  [/^(\d{4})([-/.])(\d{1,2})\2(\d{1,2})(?!\d)/, 1, 3, 4],
  [/^(\d{1,2})\.\s?(\d{1,2})\.\s?(\d{4}|\d{2})(?!\d)/, 3, 2, 1],
  [eitherOrder, 4, 3, 1],
  [/^(\d{1,2})[ .-]{1,2}([A-Za-z]{3,9})\.?[ ,-]{1,2}(\d{4}|\d{2})(?!\d)/, 3, 2, 1],
  [/^([A-Za-z]{3,9})\.? (\d{1,2})(?:st|nd|rd|th)?,? (\d{4})(?!\d)/, 3, 1, 2],
  [/^(\d{4})(\d{2})(\d{2})(?=$|[T _-]?\d{4})/, 1, 2, 3],
]
const weekday = /^(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*\.?,? /i
const clock = /^(\d{1,4}):(\d{2})(?::(\d{2})(?:[.,:](\d{1,9}))?)?(?:\s*([ap])\.?m\.?)?$/i
const compactClock = /^(\d{2})(\d{2})(\d{2})$/

/** Whether `05/01/2026` begins with its day; null when the cells are ambiguous. */
export function dateOrderOf(cells: readonly string[]): DateOrder | null {
  for (const cell of cells) {
    const match = eitherOrder.exec(cell.replace(weekday, ''))
    if (match === null) continue
    if (Number(match[1]) > 12) return 'day-first'
    if (Number(match[3]) > 12) return 'month-first'
  }
  return null
}

export function needsDateOrder(cell: string): boolean {
  return eitherOrder.test(cell.replace(weekday, ''))
}

/**
 * The date at the start of a cell, and the text after it.
 *
 * @returns null when there is none, or the date does not exist
 */
export function readDate(
  cell: string,
  order: DateOrder,
): { readonly ms: number; readonly rest: string } | null {
  const text = cell.replace(weekday, '')
  for (const [pattern, year, monthAt, dayAt] of forms) {
    const match = pattern.exec(text)
    if (match === null) continue
    const swapped = pattern === eitherOrder && order === 'month-first'
    const [month = '', day, y = ''] = swapped
      ? [match[dayAt], match[monthAt], match[year]]
      : [match[monthAt], match[dayAt], match[year]]
    const monthNumber = Number(month) || months.indexOf(month.slice(0, 3).toLowerCase()) + 1
    const ms = Date.UTC(y.length === 2 ? 2000 + Number(y) : Number(y), monthNumber - 1, Number(day))
    const isOfCalendar = monthNumber >= 1 && monthNumber <= 12 && new Date(ms).getUTCDate() === Number(day)
    return isOfCalendar && Number(day) > 0 ? { ms, rest: text.slice(match[0].length) } : null
  }
  return null
}

/** A time of day, or hours, minutes and seconds of a stopwatch, [ns]; null when it is neither. */
export function readClock(cell: string): bigint | null {
  const match = clock.exec(cell) ?? compactClock.exec(cell)
  if (match === null) return null
  const [, hours, minutes, seconds = '0', fraction = '', half] = match
  if (Number(minutes) > 59 || Number(seconds) > 59) return null
  if (half !== undefined && (Number(hours) > 12 || Number(hours) === 0)) return null
  const hour =
    half === undefined ? Number(hours) : (Number(hours) % 12) + (half.toLowerCase() === 'p' ? 12 : 0)
  const whole = BigInt(hour * 3600 + Number(minutes) * 60 + Number(seconds))
  return whole * 1_000_000_000n + BigInt(fraction.padEnd(9, '0'))
}

/** `0:30`, which may be minutes and seconds or hours and minutes. */
export function isShortClock(cell: string): boolean {
  return /^\d{1,4}:\d{2}$/.test(cell)
}

/** Offset of a zone from universal time at a local time, [ms]; cached per quarter of an hour. */
export function zoneOffset(zone: string): (localMs: number) => number {
  const fixed = /^(?:UTC|GMT|Z)?(?:([+-])(\d{1,2}):?(\d{2})?)?$/i.exec(zone)
  if (fixed !== null) {
    const minutes = Number(fixed[2] ?? 0) * 60 + Number(fixed[3] ?? 0)
    const offset = (fixed[1] === '-' ? -1 : 1) * minutes * 60_000
    return () => offset
  }
  const parts = new Intl.DateTimeFormat('en-US', { timeZone: zone, timeZoneName: 'longOffset' })
  const at = (ms: number): number => {
    const text = parts.formatToParts(ms).find(({ type }) => type === 'timeZoneName')?.value ?? 'GMT'
    return zoneOffset(text)(0)
  }
  let quarter = Number.NaN
  let offset = 0
  return (localMs) => {
    if (Math.floor(localMs / 900_000) !== quarter) {
      quarter = Math.floor(localMs / 900_000)
      offset = at(localMs - at(localMs))
    }
    return offset
  }
}
