import { findUnit } from '#analysis/physics/units.ts'
import { readOwnTime } from '#ingest/intake/dialects/own-time.ts'
import { readNumber } from '#ingest/intake/dialects/read-number.ts'
import {
  type DateOrder,
  dateOrderOf,
  isShortClock,
  needsDateOrder,
  readClock,
  readDate,
  zoneOffset,
} from './local-date.ts'
import { cellOf, type Table, type TableColumn, type TableRow, type Wrong } from './read-table.ts'

export interface TimeOptions {
  /** IANA name or offset of local times. */
  readonly zone: string
  readonly dates: DateOrder | null
  /** Time of the first row when the file has none, epoch nanoseconds. */
  readonly startNs: bigint
  readonly startFrom: string
}

interface Found {
  readonly read: (row: TableRow) => bigint | null
  readonly columns: readonly TableColumn[]
  readonly about: string
  /** Whether times count from the first row, not from an epoch. */
  readonly isElapsed?: true
  /** Whether it is a time of day without a date: it continues past midnight. */
  readonly wraps?: true
}

const dayNs = 86_400_000_000_000n
/** Share of cells that decides the type of a column. */
const enough = 0.9
const timeWords =
  /time|date|zeit|datum|uhr|heure|hora|fecha|stamp|clock|elapsed|epoch|^t$|seconds?$|minutes?$/i
const elapsedWords = /elapsed|stop ?watch|since|duration|dauer|laufzeit|^t$/i
/** Years 2000 to 2100 in days since 30 December 1899, the day count of spreadsheets. */
const serialDays = [36_526, 73_051] as const

/**
 * Epoch nanoseconds of each row, null where its time cannot be read; the columns that form the times, and how they were read, in
 * words.
 *
 * @throws UnreadableFile with one line when the rows have no times, or all the same one
 */
export function readTimes(table: Table, wrong: Wrong, options: TimeOptions) {
  const found = findTimes(table, wrong, options)
  const timesNs = table.rows.map((row) => found.read(row))
  const firstNs = timesNs.find((time) => time !== null)
  let about = found.about
  if (found.isElapsed && firstNs != null) {
    let days = 0n
    let before = firstNs
    for (const [i, time] of timesNs.entries()) {
      if (time === null) continue
      if (found.wraps && before - (time + days) > dayNs / 2n) days += dayNs
      before = time + days
      timesNs[i] = options.startNs + before - firstNs
    }
    about += `; the file names no date: its first row is put at ${isoSecond(options.startNs)} (${options.startFrom}; --start TIME sets another)`
  }
  refuseCoarse(table, timesNs, wrong)
  return { timesNs, columns: found.columns, about }
}

function isoSecond(ns: bigint): string {
  return new Date(Number(ns / 1_000_000n)).toISOString().replace('.000Z', 'Z')
}

const quoted = ({ title }: TableColumn): string => `"${title}"`

/**
 * Finds the columns with the times of a table, the most certain form first.
 *
 * @throws UnreadableFile when there are none
 */
function findTimes(table: Table, wrong: Wrong, options: TimeOptions): Found {
  /** Columns that may count: their titles speak of time. */
  const timed = table.columns.filter(({ title }) => timeWords.test(title) || !table.hasHeader)

  function cellsOf(column: TableColumn): string[] {
    return table.rows.map((row) => cellOf(row, column)).filter((cell) => cell !== '')
  }

  function isRead(column: TableColumn, read: (cell: string) => unknown): boolean {
    const cells = cellsOf(column)
    return cells.length > 0 && cells.filter((cell) => read(cell) !== null).length >= enough * cells.length
  }

  function firstThat(read: (cell: string) => unknown, among = table.columns): TableColumn | undefined {
    return among.find((column) => isRead(column, read))
  }

  /** Times with their zone, or epoch counts. */
  function byInstant(): Found | null {
    const column = firstThat(readOwnTime)
    if (column === undefined) return null
    const about = `${quoted(column)}, which states its zone`
    return { read: (row) => readOwnTime(cellOf(row, column)), columns: [column], about }
  }

  /** Local dates, with the time of day beside or in a column of its own. */
  function byDate(): Found | null {
    const column = firstThat((cell) => readDate(cell, 'day-first') ?? readDate(cell, 'month-first'))
    if (column === undefined) return null
    const { columns, rows } = table
    const order = orderOf(column)
    const rest = (cell: string) => readDate(cell, order)?.rest.replace(/^[T ,_-]+/, '') ?? ''
    const clocks = columns.filter((one) => one !== column && isRead(one, readClock))
    const clock = isRead(column, (cell) => readClock(rest(cell)))
      ? column
      : (clocks.find((one) => timed.includes(one)) ?? clocks[0])
    if (clock === undefined)
      throw wrong(
        `the times cannot be read: ${quoted(column)} has dates such as "${cellOf(rows[0], column)}", and no column has the time of day`,
        rows[0].line,
      )
    const used = clock === column ? [column] : [column, clock]
    const { instant, zone } = zoneOf(used)
    return {
      read: (row) => {
        const cell = cellOf(row, column)
        const date = readDate(cell, order)
        const time = readClock(clock === column ? rest(cell) : cellOf(row, clock))
        return date === null || time === null || time >= dayNs ? null : instant(date.ms, time)
      },
      columns: used,
      about: `${used.map(quoted).join(' and ')}, read as local time of ${zone}`,
    }
  }

  function orderOf(column: TableColumn): DateOrder {
    const cells = cellsOf(column)
    const order = options.dates ?? dateOrderOf(cells)
    const open = order === null ? cells.find(needsDateOrder) : undefined
    if (open === undefined) return order ?? 'day-first'
    throw wrong(
      `the date "${open}" may begin with its day or its month: add --dates day-first or --dates month-first`,
      table.rows.find((row) => cellOf(row, column) === open)?.line ?? null,
    )
  }

  /** Zone of local times: that in a title, else the given one. */
  function zoneOf(columns: readonly TableColumn[]) {
    const named = columns.flatMap(
      ({ title }) => /\b(?:UTC|GMT)(?:\s?[+-]\d{1,2}(?::?\d{2})?)?/i.exec(title)?.[0] ?? [],
    )
    const zone = named[0]?.replace(/\s/g, '') ?? options.zone
    const offset = zoneOffset(zone)
    const instant = (dateMs: number, clockNs: bigint): bigint => {
      const localMs = dateMs + Number(clockNs / 1_000_000n)
      return BigInt(dateMs - offset(localMs)) * 1_000_000n + clockNs
    }
    return { instant, zone }
  }

  /** The day count of spreadsheets. */
  function bySerialDays(): Found | null {
    const daysOf = (cell: string) => {
      const days = readNumber(cell, table.decimalSign)
      return days != null && days >= serialDays[0] && days < serialDays[1] && days % 1 !== 0 ? days : null
    }
    const column = firstThat(daysOf, timed)
    if (column === undefined) return null
    const { instant, zone } = zoneOf([column])
    return {
      read: (row) => {
        const days = daysOf(cellOf(row, column))
        return days === null ? null : instant(Math.round((days - 25_569) * 86_400_000), 0n)
      },
      columns: [column],
      about: `${quoted(column)}, days as a spreadsheet counts them, read as local time of ${zone}`,
    }
  }

  /** Times of day without a date, or a stopwatch. */
  function byTimeOfDay(): Found | null {
    const column = firstThat(readClock)
    if (column === undefined) return null
    const cells = cellsOf(column)
    const unit = `${column.unit ?? ''} ${column.title}`
    const isMinutes = /\bm{1,2}:ss\b/i.test(unit)
    const startsAtZero = readClock(cells[0] ?? '') === 0n
    if (cells.every(isShortClock) && !isMinutes && !/\bh{1,2}:mm\b/i.test(unit) && startsAtZero)
      throw wrong(
        `times such as "${cells.at(-1)}" may be minutes and seconds or hours and minutes: name the column "Time (mm:ss)" or "Time (hh:mm)"`,
        table.rows[0].line,
      )
    const isElapsed = startsAtZero || elapsedWords.test(column.title)
    return {
      read: (row) => {
        const time = readClock(cellOf(row, column))
        return time !== null && isMinutes && isShortClock(cellOf(row, column)) ? time / 60n : time
      },
      columns: [column],
      about: `${quoted(column)}, ${isElapsed ? 'time from the first row' : 'time of day'}`,
      isElapsed: true,
      wraps: true,
    }
  }

  /** Numbers that count from the first row. */
  function byCount(): Found | null {
    const { decimalSign, rows } = table
    const column = firstThat((cell) => readNumber(cell, decimalSign) ?? null, timed)
    if (column === undefined) return null
    const { title, unit } = column
    const nsOf =
      nsPerUnit(unit) ?? nsPerUnit(/(?:_|\bin )([a-zµ]+)\W*$/i.exec(title)?.[1] ?? null) ?? nsPerUnit(title)
    if (nsOf === null)
      throw wrong(
        `the times cannot be read: ${quoted(column)} has numbers such as ${cellOf(rows[0], column)} without a unit; name it "Time (s)" or "Time (min)"`,
        rows[0].line,
      )
    return {
      read: (row) => {
        const value = readNumber(cellOf(row, column), decimalSign)
        return typeof value === 'number' ? BigInt(Math.round(value * nsOf)) : null
      },
      columns: [column],
      about: `${quoted(column)}, time from the first row`,
      isElapsed: true,
    }
  }

  const found = byInstant() ?? byDate() ?? bySerialDays() ?? byTimeOfDay() ?? byCount()
  if (found !== null) return found
  const [named] = timed
  const [row] = table.rows
  const example =
    table.hasHeader && named !== undefined
      ? `: ${quoted(named)} has "${cellOf(row, named)}"`
      : ': no column has dates or times of day'
  throw wrong(`the times cannot be read${example}; write them like 2026-01-05 09:30:00`, row.line)
}

function nsPerUnit(unit: string | null): number | null {
  if (unit === null) return null
  if (/^(µs|us)$/i.test(unit)) return 1e3
  const found = findUnit(unit.trim().toLowerCase(), 'time')
  return found === null ? null : (found.unit.times / found.unit.over) * 1e9
}

/** Refuses times that are too coarse to order the rows. */
function refuseCoarse({ rows }: Table, timesNs: readonly (bigint | null)[], wrong: Wrong): void {
  const known = timesNs.filter((time) => time !== null)
  if (known.length < enough * timesNs.length)
    throw wrong(
      `the times cannot be read in ${timesNs.length - known.length} of ${timesNs.length} rows, first in this one; write them like 2026-01-05 09:30:00`,
      rows[timesNs.indexOf(null)]?.line,
    )
  const [instant = 0n, ...others] = new Set(known)
  if (known.length > 1 && others.length === 0)
    throw wrong(
      `all ${known.length} rows have the same time, ${isoSecond(instant)}: export the time of each row`,
      rows[0].line,
    )
  const instants = others.length + 1
  if (instants * 2 < known.length)
    throw wrong(
      `${known.length} rows share ${instants} times: the times are too coarse; export them with seconds`,
      rows[0].line,
    )
}
