export type DateOrder = 'day-first' | 'month-first'

const months = ['jan', 'feb', 'mar', 'apr', 'may', 'jun', 'jul', 'aug', 'sep', 'oct', 'nov', 'dec']

const yearFirst = /^(\d{4})([-/.])(\d{1,2})\2(\d{1,2})(?!\d)/
const dotted = /^(\d{1,2})\.\s?(\d{1,2})\.\s?(\d{4}|\d{2})(?!\d)/
const eitherOrder = /^(\d{1,2})([/-])(\d{1,2})\2(\d{4}|\d{2})(?!\d)/
const named = /^(\d{1,2})[ .-]{1,2}([A-Za-z]{3,9})\.?[ ,-]{1,2}(\d{4}|\d{2})(?!\d)/
const monthNamed = /^([A-Za-z]{3,9})\.? (\d{1,2})(?:st|nd|rd|th)?,? (\d{4})(?!\d)/
const compact = /^(\d{4})(\d{2})(\d{2})(?=$|[T _-]?\d{4})/
const weekday = /^(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*\.?,? /i
const clock = /^(\d{1,4}):(\d{2})(?::(\d{2})(?:[.,:](\d{1,9}))?)?(?:\s*([ap])\.?m\.?)?$/i
const compactClock = /^(\d{2})(\d{2})(\d{2})$/

/** Whether `05/01/2026` begins with its day: null when the cells do not tell. */
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
 * The date a cell begins with, and the text behind it.
 *
 * @returns null when it begins with none, or with one that no calendar has
 */
export function readDate(
  cell: string,
  order: DateOrder,
): { readonly ms: number; readonly rest: string } | null {
  const text = cell.replace(weekday, '')
  const read = (match: RegExpExecArray, year: string, month: number, day: string) => {
    const y = year.length === 2 ? 2000 + Number(year) : Number(year)
    const ms = Date.UTC(y, month - 1, Number(day))
    const isOfCalendar = month >= 1 && month <= 12 && new Date(ms).getUTCDate() === Number(day)
    return isOfCalendar && Number(day) > 0 ? { ms, rest: text.slice(match[0].length) } : null
  }
  let match = yearFirst.exec(text)
  if (match !== null) return read(match, match[1], Number(match[3]), match[4])
  match = dotted.exec(text)
  if (match !== null) return read(match, match[3], Number(match[2]), match[1])
  match = eitherOrder.exec(text)
  if (match !== null)
    return order === 'day-first'
      ? read(match, match[4], Number(match[3]), match[1])
      : read(match, match[4], Number(match[1]), match[3])
  match = named.exec(text)
  if (match !== null) return read(match, match[3], monthOf(match[2]), match[1])
  match = monthNamed.exec(text)
  if (match !== null) return read(match, match[3], monthOf(match[1]), match[2])
  match = compact.exec(text)
  return match && read(match, match[1], Number(match[2]), match[3])
}

function monthOf(name: string): number {
  return months.indexOf(name.slice(0, 3).toLowerCase()) + 1
}

/** A time of day, or hours, minutes and seconds of a stopwatch, [ns]; null when it is none. */
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

/** Milliseconds that a zone is ahead of universal time at a local time; found anew each quarter of an hour. */
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
