import { createHash } from 'node:crypto'
import type { OriginKind } from '#analysis/model/origin.ts'
import type { System } from '#analysis/model/system.ts'
import { loggerMeasurement } from '#ingest/intake/dialects/dialect.ts'
import { readNumber } from '#ingest/intake/dialects/read-number.ts'
import { formatPoint } from '#ingest/line-protocol/format-point.ts'
import { recordingHeader } from '#ingest/recording/recording-header.ts'
import { markLine } from '#ingest/recording/recording-writer.ts'
import { rejectedLine } from '#ingest/recording/rejected-line.ts'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'
import { type ChannelColumn, columnChannels } from './column-channels.ts'
import { cellOf, readTable, type Table, type TableColumn, type TableRow, type Wrong } from './read-table.ts'
import { readTimes, type TimeOptions } from './read-times.ts'

export interface ImportOptions extends TimeOptions {
  /** Hold of the file: only channels of its sections are searched, and its stages are marked. */
  readonly hold: string | null
  /** Column titles that the user assigned to channel ids. */
  readonly columns: ReadonlyMap<string, string>
  readonly origin: Extract<OriginKind, 'import' | 'typed'>
  /** Name of the file without folder. */
  readonly name: string
}

const separatorWords: Readonly<Record<string, string>> = {
  '\t': 'tabs',
  ';': 'semicolons',
  ',': 'commas',
  '|': 'bars',
}
const stageNames = ['pump-up', 'settle', 'hold', 'vent', 'end']
const remarkTitles = /^(?:stage|phase|step|event|mark|note|comment|remark)s?$/i

/**
 * Converts a file from a spreadsheet or another logger to the text of a recording.
 *
 * @param file name for messages
 * @throws UnreadableFile with one line when its times, its columns or its numbers cannot be read
 */
export function importTable(bytes: Uint8Array, file: string, system: System, options: ImportOptions) {
  const wrong: Wrong = (problem, line = null) => new UnreadableFile(file, line, problem)
  const table = readTable(bytes, wrong)
  const times = readTimes(table, wrong, options)
  const sections = options.hold === null ? null : system.holds.find(({ id }) => id === options.hold)?.sections
  const among = system.channels.filter(
    ({ section }) => sections == null || section === null || sections.includes(section),
  )
  const channels = columnChannels(table, times.columns, system, among, options.columns, wrong)
  if (channels.length === 0)
    throw wrong(
      `no column is a channel of the system file; columns: ${titles(table)}; channels: ${among.map(({ id }) => id).join(', ')}. Add --column "TITLE=CHANNEL"`,
    )
  const writer = rowWriter(table, system, channels, times.columns, options.hold)
  const sha256 = createHash('sha256').update(bytes).digest('hex')
  const timed = table.rows.map((row, i) => ({ row, timeNs: times.timesNs[i] ?? null }))
  const known = times.timesNs.filter((time) => time !== null)
  for (const { row, timeNs } of isNewestFirst(known) ? timed.reverse() : timed) {
    if (timeNs === null) writer.reject('its time cannot be read', row.text)
    else writer.row(row, timeNs)
  }
  if (writer.done.points === 0)
    throw wrong(
      `no number in column ${channels.map(({ column }) => `"${column.title}"`).join(' or ')} can be read: ${writer.done.firstRefusal}`,
      table.rows[0].line,
    )
  const [oneNs = 0n, otherNs = oneNs] = [known[0], known.at(-1)]
  const [firstNs, lastNs] = oneNs < otherNs ? [oneNs, otherNs] : [otherNs, oneNs]
  const origins = channels.map(({ channel }) =>
    markLine(
      {
        kind: 'origin',
        id: channel.movable?.id ?? channel.id,
        fields: { source: options.origin, name: options.name, sha256 },
      },
      firstNs,
    ),
  )
  const places = channels.flatMap(({ channel: { movable, section } }) =>
    movable === undefined || section === null
      ? []
      : [markLine({ kind: 'place', id: movable.id, from: 'operator', fields: { section } }, firstNs)],
  )
  const note = markLine(
    { kind: 'note', fields: { text: `imported from ${options.name}: ${times.about}` } },
    firstNs,
  )
  const others = table.others.map(({ text }) => rejectedLine('no row of the table', Buffer.from(text)))
  return {
    recording: `${[recordingHeader, ...others, ...origins, ...places, note, ...writer.lines].join('\n')}\n`,
    /** Interpretation of the whole file, in words. */
    about: `${table.rows.length} rows, columns separated by ${separatorWords[table.separator]}, decimal ${table.decimalSign === ',' ? 'comma' : 'point'}; times: ${times.about}`,
    columns: understood(table, times.columns, channels, writer),
    points: writer.done.points,
    marks: writer.done.marks + origins.length + places.length + 1,
    rejected: writer.done.rejected,
    firstNs,
    lastNs,
  }
}

export type ImportedTable = Readonly<ReturnType<typeof importTable>>

function titles(table: Table): string {
  return table.columns.map(({ title }) => `"${title}"`).join(', ')
}

function isNewestFirst(timesNs: readonly bigint[]): boolean {
  return timesNs.length > 1 && timesNs.every((time, i) => time <= (timesNs[i - 1] ?? time))
}

function rowWriter(
  table: Table,
  system: System,
  channels: readonly ChannelColumn[],
  taken: readonly TableColumn[],
  hold: string | null,
) {
  const lines: string[] = []
  const done = { points: 0, marks: 0, rejected: 0, firstRefusal: '' }
  const remarks = table.columns.find(({ title }) => remarkTitles.test(title))
  const read = system.channels.map(({ from }) => from.field)
  const used = [remarks, ...taken, ...channels.map(({ column }) => column)]
  /** Columns without a channel: their numbers are kept under their names. */
  const kept = table.columns.filter((column) => !used.includes(column) && !read.includes(column.name))
  let remark = ''

  function row(line: TableRow, timeNs: bigint): void {
    mark(remarks ? cellOf(line, remarks).trim() : '', timeNs)
    const points = new Map<
      string,
      { measurement: string; tags: Readonly<Record<string, string>>; fields: Record<string, number> }
    >()
    for (const { column, channel, convert } of channels) {
      const value = numberOf(cellOf(line, column))
      if (value === undefined) {
        done.firstRefusal ||= `"${cellOf(line, column)}" is not a number`
        reject(`${column.title} is not a number`, line.text)
        return
      }
      if (value === null) continue
      const { measurement, field, tags } = channel.from
      const key = JSON.stringify([measurement, tags])
      const point = points.get(key) ?? { measurement, tags, fields: {} }
      point.fields[field] = convert(value)
      points.set(key, point)
    }
    const others = points.get(JSON.stringify([loggerMeasurement, {}])) ?? [...points.values()][0]
    if (others === undefined) return
    for (const column of kept) {
      const value = numberOf(cellOf(line, column))
      if (typeof value === 'number') others.fields[column.name] = value
    }
    for (const point of points.values()) lines.push(formatPoint({ ...point, timeNs }))
    done.points++
  }

  function reject(reason: string, text: string): void {
    lines.push(rejectedLine(reason, Buffer.from(text)))
    done.rejected++
  }

  /** A remark may be on every row it applies to, or only on the first. */
  function mark(text: string, timeNs: bigint): void {
    if (text === '' || text === remark) return
    remark = text
    const stage = text.toLowerCase().replace(/\s+/g, '-')
    done.marks++
    lines.push(
      stageNames.includes(stage)
        ? markLine({ kind: 'stage', hold: hold, from: 'operator', fields: { name: stage } }, timeNs)
        : markLine({ kind: 'note', from: 'operator', fields: { text } }, timeNs),
    )
  }

  /** Removes thousands separators where a decimal sign identifies them. */
  function numberOf(cell: string): number | null | undefined {
    const sign = table.decimalSign
    const thousands =
      sign === '.'
        ? /^[+-]?\d{1,3}(?:[, ' \u00a0\u202f’]\d{3})+(?=\.|$)/
        : /^[+-]?\d{1,3}(?:[. '\u00a0\u202f’]\d{3})+(?=,|$)/
    const grouped = thousands.exec(cell)?.[0]
    const text = grouped === undefined ? cell : grouped.replace(/[^\d+-]/g, '') + cell.slice(grouped.length)
    // A unit after each number: `10,01 psi`.
    return readNumber(text.replace(/(\d)\s*[A-Za-z°%"][\w°/"]*$/, '$1').replace('\u2212', '-'), sign)
  }

  return { lines, done, remarks, kept, row, reject }
}

/** Each column and its interpretation. */
function understood(
  table: Table,
  taken: readonly TableColumn[],
  channels: readonly ChannelColumn[],
  writer: ReturnType<typeof rowWriter>,
) {
  return table.columns.map((one) => {
    const { title } = one
    const row = table.rows.find((each) => cellOf(each, one) !== '')
    const example = row ? cellOf(row, one) : ''
    const found = channels.find(({ column }) => column === one)
    if (found !== undefined) {
      const { channel, unit } = found
      const inUnit =
        unit === null
          ? `taken as ${channel.unit}`
          : unit === channel.unit
            ? unit
            : `${unit}, kept as ${channel.unit}`
      return { title, example, means: `channel ${channel.id}, ${inUnit}` }
    }
    if (taken.includes(one)) return { title, example, means: 'time' }
    if (one === writer.remarks) return { title, example, means: 'stages and notes' }
    return { title, example, means: writer.kept.includes(one) ? 'no channel reads it' : 'left out' }
  })
}
