import type { Channel, System } from '#analysis/model/system.ts'
import { findUnit, fromUnit, toUnit } from '#analysis/physics/units.ts'
import type { Table, TableColumn, Wrong } from './read-table.ts'

/** A column of the table with a channel's readings. */
export type ChannelColumn = Readonly<ReturnType<typeof withUnit>>

type Quantity = 'gauge' | 'barometer' | 'temperature' | null

/**
 * Assigns columns to channels: by the channel's field or id in the title, else by the words and unit of the title.
 *
 * @param among candidate channels
 * @param assigned titles that the user assigned to channel ids
 * @throws UnreadableFile when a column is ambiguous, or its unit does not fit the channel
 */
export function columnChannels(
  table: Table,
  taken: readonly TableColumn[],
  system: System,
  among: readonly Channel[],
  assigned: ReadonlyMap<string, string>,
  wrong: Wrong,
) {
  const open = table.columns.filter((column) => !taken.includes(column))
  const found = new Map<TableColumn, Channel>()
  const isNamed = ({ name, title }: TableColumn, asked: string) =>
    plain(name) === plain(asked) || plain(title) === plain(asked)
  for (const [title, id] of assigned) {
    const column = open.find((one) => isNamed(one, title))
    const channel = system.channels.find((one) => one.id === id)
    if (column === undefined)
      throw wrong(`has no column "${title}"; its columns: ${open.map((one) => one.title).join(', ')}`)
    if (channel === undefined)
      throw wrong(
        `--column ${title}=${id}: the system file has no channel "${id}"; its channels: ${system.channels.map((one) => one.id).join(', ')}`,
      )
    found.set(column, channel)
  }
  const isFree = (channel: Channel) => ![...found.values()].includes(channel)
  for (const byName of [(c: Channel) => c.id, (c: Channel) => c.from.field])
    for (const column of open) {
      if (found.has(column)) continue
      const named = among.filter((channel) => isFree(channel) && isNamed(column, byName(channel)))
      const [only, ...others] = named
      if (others.length > 0) throw ambiguous(wrong, column, named)
      if (only !== undefined) found.set(column, only)
    }
  for (const column of open) {
    if (found.has(column)) continue
    const measured = quantityOf(column)
    const alike = among.filter(
      (channel) => isFree(channel) && measured !== null && measures(channel) === measured,
    )
    const rated = alike.map((channel) => ({ channel, words: sharedWords(column, channel, system) }))
    const most = Math.max(0, ...rated.map(({ words }) => words))
    const best = rated.filter(({ words }) => words === most).map(({ channel }) => channel)
    const [only, ...others] = best
    if (others.length > 0) throw ambiguous(wrong, column, best)
    if (only === undefined) continue
    // A second column of the same kind may be the same gauge in another unit.
    const rival = open.find(
      (other) =>
        other !== column &&
        !found.has(other) &&
        quantityOf(other) === measured &&
        sharedWords(other, only, system) >= most,
    )
    if (rival !== undefined && alike.length === 1)
      throw wrong(
        `columns "${column.title}" and "${rival.title}" may both be channel ${only.id}: add --column "${column.title}=${only.id}" for the one that is`,
      )
    found.set(column, only)
  }
  return [...found]
    .map(([column, channel]) => withUnit(column, channel, wrong))
    .sort((a, b) => a.column.index - b.column.index)
}

function ambiguous(wrong: Wrong, { title }: TableColumn, channels: readonly Channel[]) {
  const ids = channels.map(({ id }) => id)
  return wrong(
    `column "${title}" may be ${ids.slice(0, -1).join(', ')} or ${ids.at(-1)}: add --column "${title}=${ids[0]}", or --hold ID to look among the channels of one hold`,
  )
}

function plain(text: string): string {
  return text.toLowerCase().replace(/[^\p{L}\p{N}]/gu, '')
}

function quantityOf({ title, unit }: TableColumn): Quantity {
  const known = unit === null ? null : findUnit(unit)?.unit.dimension
  if (/baro|atmos|luftdruck|ambient p|qfe|station p/i.test(title))
    return known == null || known === 'pressure' ? 'barometer' : null
  if (known === 'temperature') return 'temperature'
  if (known === 'pressure') return 'gauge'
  if (known != null) return null
  if (/temp|thermo/i.test(title)) return 'temperature'
  return /press|druck|gauge|gage|presi|manometer|^p\d*$/i.test(title) ? 'gauge' : null
}

function measures({ measures }: Channel): Quantity {
  if (measures === 'barometric-pressure') return 'barometer'
  if (measures === 'temperature') return 'temperature'
  return measures === 'gauge-pressure' || measures === 'absolute-pressure' ? 'gauge' : null
}

/** Words of the channel's id, section, field and serial number that appear in the title. */
function sharedWords({ title }: TableColumn, channel: Channel, system: System): number {
  const words = new Set(title.toLowerCase().split(/[^\p{L}\p{N}]+/u))
  const section = system.sections.find(({ id }) => id === channel.section)?.id ?? ''
  const own = new Set(
    `${channel.id}-${section}-${channel.from.field}-${channel.serial ?? ''}`
      .toLowerCase()
      .split(/[^\p{L}\p{N}]+/u),
  )
  return [...own].filter((word) => word.length > 1 && words.has(word)).length
}

function withUnit(column: TableColumn, channel: Channel, wrong: Wrong) {
  const as = {
    column,
    channel,
    /** Unit of the column; null: the channel's unit. */
    unit: column.unit && channel.unit,
    /** From the column's unit to the channel's. */
    convert: (value: number) => value,
  }
  const written = column.unit === null ? null : findUnit(column.unit, findUnit(channel.unit)?.unit.dimension)
  if (column.unit === null || plain(column.unit) === plain(channel.unit)) return as
  const misfit = (why: string) =>
    wrong(`column "${column.title}" is in ${column.unit}, and channel ${channel.id} ${why}`)
  if (channel.scale !== null) throw misfit(`takes ${channel.unit} through its scale: import the raw column`)
  if (written === null) {
    if (findUnit(column.unit) === null) return { ...as, unit: null }
    throw misfit(`in ${channel.unit}`)
  }
  const reference = channel.measures === 'gauge-pressure' ? 'gauge' : 'absolute'
  if (written.reference !== null && written.reference !== reference)
    throw misfit(`measures ${reference} pressure`)
  const { symbol, dimension } = written.unit
  const target = findUnit(channel.unit, dimension)!.unit.symbol
  if (symbol === target) return as
  return {
    ...as,
    unit: symbol,
    convert: (value: number) => toUnit(fromUnit(value, symbol, dimension), target, dimension),
  }
}
