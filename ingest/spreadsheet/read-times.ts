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
import type { Table, Wrong } from './read-table.ts'

export interface TimeOptions {
  /** IANA name or offset of local times. */
  readonly zone: string
  readonly dates: DateOrder | null
  /** Time of the first row when the file has none, epoch nanoseconds. */
  readonly startNs: bigint
  readonly startFrom: string
}

export interface ReadTimes {
  /** Epoch nanoseconds of each row; null where its time cannot be read. */
  readonly timesNs: readonly (bigint | null)[]
  /** Columns that form the times. */
  readonly columns: readonly number[]
  /** How they were read, in words. */
  readonly about: string
}

type Reader = (cell: string) => bigint | null

interface Found {
  readonly read: (cells: readonly string[]) => bigint | null
  readonly columns: readonly number[]
  readonly about: string
  /** Whether times count from the first row, not from an epoch. */
  readonly isElapsed: boolean
  /** Whether it is a time of day without a date: it continues past midnight. */
  readonly wraps?: boolean
}

const dayNs = 86_400_000_000_000n
/** Share of cells that decides the type of a column. */
const enough = 0.9
const timeWords =
  /time|date|zeit|datum|uhr|heure|hora|fecha|stamp|clock|elapsed|epoch|^t$|seconds?$|minutes?$/i
const elapsedWords = /elapsed|stop ?watch|since|duration|dauer|laufzeit|^t$/i
/** Years 2000 to 2100 in days since 30 December 1899, the day count of spreadsheets. */
const serialDays = [36_526, 73_051] as const

/** @throws UnreadableFile with one line when the rows have no times, or all the same one */
export function readTimes(table: Table, wrong: Wrong, options: TimeOptions): ReadTimes {
  const found = findTimes(table, wrong, options)
  const timesNs = table.rows.map(({ cells }) => found.read(cells))
  const known = timesNs.filter((time) => time !== null)
  let about = found.about
  if (found.isElapsed && known.length > 0) {
    const firstNs = known[0]
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

function findTimes(table: Table, wrong: Wrong, options: TimeOptions): Found {
  const { columns, rows } = table
  const cellsOf = (i: number) => rows.map(({ cells }) => cells[i]).filter((cell) => cell !== '')
  const reads = (i: number, read: (cell: string) => unknown) => {
    const cells = cellsOf(i)
    return cells.length > 0 && cells.filter((cell) => read(cell) !== null).length >= enough * cells.length
  }
  const all = columns.map((_, i) => i)
  const isTimeColumn = (i: number) => timeWords.test(columns[i].title) || !table.hasHeader
  const first = (read: Reader, among = all) => among.find((i) => reads(i, read)) ?? -1
  const title = (i: number) => `"${columns[i].title}"`

  const instant = first(readOwnTime)
  if (instant !== -1)
    return {
      read: (cells) => readOwnTime(cells[instant]),
      columns: [instant],
      about: `${title(instant)}, which states its zone`,
      isElapsed: false,
    }

  const order = (i: number): DateOrder => {
    const cells = cellsOf(i)
    const said = options.dates ?? dateOrderOf(cells)
    const open = said === null ? cells.find(needsDateOrder) : undefined
    if (open !== undefined)
      throw wrong(
        `the date "${open}" may begin with its day or its month: add --dates day-first or --dates month-first`,
        rows.find(({ cells }) => cells[i] === open)?.line ?? null,
      )
    return said ?? 'day-first'
  }
  const zoneAt = (...among: number[]) => {
    const named = among.map(
      (i) => /\b(?:UTC|GMT)(?:\s?[+-]\d{1,2}(?::?\d{2})?)?/i.exec(columns[i].title)?.[0],
    )
    const zone = named.find((one) => one !== undefined)?.replace(/\s/g, '')
    return { toOffset: zoneOffset(zone ?? options.zone), zone: zone ?? options.zone }
  }
  const whole = (toOffset: (ms: number) => number, dateMs: number, clockNs: bigint): bigint => {
    const localMs = dateMs + Number(clockNs / 1_000_000n)
    return BigInt(dateMs - toOffset(localMs)) * 1_000_000n + clockNs
  }

  const dated = first((cell) => ((readDate(cell, 'day-first') ?? readDate(cell, 'month-first')) ? 1n : null))
  if (dated !== -1) {
    const dates = order(dated)
    const rest = (cell: string) => readDate(cell, dates)?.rest.replace(/^[T ,_-]+/, '') ?? ''
    const besides = all.filter((i) => i !== dated && reads(i, readClock))
    const clockAt = besides.find(isTimeColumn) ?? besides[0] ?? -1
    const inOne = reads(dated, (cell) => readClock(rest(cell)))
    if (!inOne && clockAt === -1)
      throw wrong(
        `the times cannot be read: ${title(dated)} has dates such as "${rows[0].cells[dated]}", and no column has the time of day`,
        rows[0].line,
      )
    const used = inOne ? [dated] : [dated, clockAt]
    const { toOffset, zone } = zoneAt(...used)
    return {
      read: (cells) => {
        const date = readDate(cells[dated], dates)
        const clock = readClock(inOne ? rest(cells[dated]) : cells[clockAt])
        return date === null || clock === null || clock >= dayNs ? null : whole(toOffset, date.ms, clock)
      },
      columns: used,
      about: `${used.map(title).join(' and ')}, read as local time of ${zone}`,
      isElapsed: false,
    }
  }

  const serialOf = (cell: string) => {
    const days = readNumber(cell, table.decimalSign)
    return days != null && days >= serialDays[0] && days < serialDays[1] && days % 1 !== 0 ? days : null
  }
  const serial = all.filter(isTimeColumn).find((i) => reads(i, serialOf)) ?? -1
  if (serial !== -1) {
    const { toOffset, zone } = zoneAt(serial)
    return {
      read: (cells) => {
        const days = serialOf(cells[serial])
        if (days === null) return null
        const ms = Math.round((days - 25_569) * 86_400_000)
        return whole(toOffset, ms, 0n)
      },
      columns: [serial],
      about: `${title(serial)}, days as a spreadsheet counts them, read as local time of ${zone}`,
      isElapsed: false,
    }
  }
  return findElapsed(table, wrong, all.filter(isTimeColumn), cellsOf, first)
}

/** Times that count from the first row, or times of day without a date. */
function findElapsed(
  table: Table,
  wrong: Wrong,
  among: readonly number[],
  cellsOf: (i: number) => string[],
  first: (read: Reader, among?: number[]) => number,
): Found {
  const { columns, rows } = table
  const title = (i: number) => `"${columns[i].title}"`
  const clocked = first(readClock)
  if (clocked !== -1) {
    const cells = cellsOf(clocked)
    const unit = `${columns[clocked].unit ?? ''} ${columns[clocked].title}`
    const isMinutes = /\bm{1,2}:ss\b/i.test(unit)
    const startsAtZero = readClock(cells[0]) === 0n
    if (cells.every(isShortClock) && !isMinutes && !/\bh{1,2}:mm\b/i.test(unit) && startsAtZero)
      throw wrong(
        `times such as "${cells.at(-1)}" may be minutes and seconds or hours and minutes: name the column "Time (mm:ss)" or "Time (hh:mm)"`,
        rows[0].line,
      )
    const isElapsed = startsAtZero || elapsedWords.test(columns[clocked].title)
    return {
      read: (row) => {
        const time = readClock(row[clocked])
        return time !== null && isMinutes && isShortClock(row[clocked]) ? time / 60n : time
      },
      columns: [clocked],
      about: `${title(clocked)}, ${isElapsed ? 'time from the first row' : 'time of day'}`,
      isElapsed: true,
      wraps: true,
    }
  }
  const isNumber: Reader = (cell) => (typeof readNumber(cell, table.decimalSign) === 'number' ? 1n : null)
  const counted = first(isNumber, [...among])
  if (counted !== -1) {
    const { title: words, unit } = columns[counted]
    const nsOf =
      nsPerUnit(unit) ?? nsPerUnit(/(?:_|\bin )([a-zµ]+)\W*$/i.exec(words)?.[1] ?? null) ?? nsPerUnit(words)
    if (nsOf === null)
      throw wrong(
        `the times cannot be read: ${title(counted)} has numbers such as ${rows[0].cells[counted]} without a unit; name it "Time (s)" or "Time (min)"`,
        rows[0].line,
      )
    return {
      read: (cells) => {
        const value = readNumber(cells[counted], table.decimalSign)
        return typeof value === 'number' ? BigInt(Math.round(value * nsOf)) : null
      },
      columns: [counted],
      about: `${title(counted)}, time from the first row`,
      isElapsed: true,
    }
  }
  const [named] = among
  const example =
    table.hasHeader && named !== undefined
      ? `: ${title(named)} has "${rows[0].cells[named]}"`
      : ': no column has dates or times of day'
  throw wrong(`the times cannot be read${example}; write them like 2026-01-05 09:30:00`, rows[0].line)
}

function nsPerUnit(unit: string | null): number | null {
  if (unit === null) return null
  if (/^(µs|us)$/i.test(unit)) return 1e3
  const found = findUnit(unit.trim().toLowerCase(), 'time')
  return found === null ? null : (found.unit.times / found.unit.over) * 1e9
}

/** Refuses times that are too coarse to order the rows. */
function refuseCoarse(table: Table, timesNs: readonly (bigint | null)[], wrong: Wrong): void {
  const known = timesNs.filter((time) => time !== null)
  const unread = timesNs.indexOf(null)
  if (known.length < enough * timesNs.length)
    throw wrong(
      `the times cannot be read in ${timesNs.length - known.length} of ${timesNs.length} rows, first in this one; write them like 2026-01-05 09:30:00`,
      table.rows[unread].line,
    )
  const instants = new Set(known).size
  if (known.length > 1 && instants === 1)
    throw wrong(
      `all ${known.length} rows have the same time, ${isoSecond(known[0])}: export the time of each row`,
      table.rows[0].line,
    )
  if (instants * 2 < known.length)
    throw wrong(
      `${known.length} rows share ${instants} times: the times are too coarse; export them with seconds`,
      table.rows[0].line,
    )
}
