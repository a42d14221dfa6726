import type { Mark } from '#analysis/model/samples.ts'
import type { Channel, System } from '#analysis/model/system.ts'
import { type Fill, type LevelGauge, readFills } from './fills.ts'
import { SheetEntries, sheetNames } from './sheet-entries.ts'
import { levelPanelFields, levelPointFields, levelSenderFields } from './sheet-fields.ts'

/**
 * Level sheet: `channel` and `recordings` of a logger, or `section`, `unit` and `points` typed from the panel; `steps`.
 *
 * @throws SheetError naming the first entry that is wrong
 */
export function readLevelSheet(value: unknown, system: System) {
  const sheet = new SheetEntries(value, 'level sheet')
  const typed = sheet
    .list('points')
    .map((point, i) => readPoint(new SheetEntries(point, `point ${i + 1}`), system, i))
  const { gauge, recordings } = typed.length > 0 ? panelOf(sheet, system) : senderOf(sheet, system)
  const found = sheet.optionalQuantity('unusable-found', 'volume')
  const how = sheet.optionalText('unusable-how')
  const steps = readSteps(sheet)
  sheet.finish()
  return {
    channel: gauge as LevelGauge,
    section: system.sections.find(({ id }) => id === gauge.section)!,
    recordings,
    order: {
      /** Equal parts of the gauge's scale, or the usable fuel at each of its marks, rising, [m³]. */
      steps,
      typed: typed as readonly TypedPoint[],
      /** Resolution of the panel. */
      readingStep: gauge.resolutionSi ?? 0,
      /** Unusable fuel found; null: the figure of the system file. */
      unusable: found && { m3: found.value, halfWidthM3: found.tolerance ?? 0, how },
    },
  }
}

export type LevelOrder = ReturnType<typeof readLevelSheet>['order']

interface GaugeOf {
  readonly gauge: LevelGauge & Pick<Channel, 'section'>
  readonly recordings: readonly string[]
}

function panelOf(sheet: SheetEntries, system: System): GaugeOf {
  const is = sheet.read(levelPanelFields, system)
  const step = is['reading-step']
  if (!(step > 0)) sheet.fail('reading-step', 'must be above zero')
  return {
    gauge: { id: 'panel', section: is.section, unit: is.unit, resolutionSi: step, rangeSi: null },
    recordings: [],
  }
}

function senderOf(sheet: SheetEntries, system: System): GaugeOf {
  if (sheetNames(system, 'senders').length === 0)
    sheet.fail('channel', 'cannot be: the system file names no level-sender')
  const is = sheet.read(levelSenderFields, system)
  const recordings = sheet.texts('recordings')
  if (recordings.length === 0)
    sheet.fail('recordings', 'names no recording with fill marks, and no points are typed')
  const twice = recordings.find((name, i) => recordings.indexOf(name) !== i)
  if (twice !== undefined) sheet.fail('recordings', `names ${twice} twice`)
  return { gauge: system.channels.find(({ id }) => id === is.channel)!, recordings }
}

/** `steps: 8`, or the fuel at each mark of an uneven scale: `steps: [5 L, 15 L, 30 L]`. */
function readSteps(sheet: SheetEntries): number | readonly number[] {
  const stated = sheet.optional('steps') ?? 8
  if (!Array.isArray(stated)) {
    const count = Number(stated)
    return Number.isInteger(count) && count >= 2 && count <= 64
      ? count
      : sheet.fail('steps', 'is neither a whole number from 2 to 64 nor a list of amounts')
  }
  const marks = sheet
    .texts('steps')
    .map((text) => new SheetEntries({ mark: text }, 'steps').quantity('mark', 'volume').value)
  if (marks.length === 0 || marks.some((m3, i) => !(m3 > (marks[i - 1] ?? 0))))
    sheet.fail('steps', 'is a list of rising amounts, such as 5 L, 15 L, 30 L')
  return marks
}

/** A point typed from the panel: the fill, and the gauge reading after it; null when not read. */
interface TypedPoint {
  readonly fill: Fill
  readonly reading: number | null
}

/** A typed point is a fill mark with a reading; points are in the order of measurement. */
function readPoint(entry: SheetEntries, system: System, i: number): TypedPoint {
  const { reading, ...fields } = entry.read(levelPointFields, system)
  entry.finish()
  const stated = Object.fromEntries(
    Object.entries(fields).flatMap(([key, value]) => (value === null ? [] : [[key, value]])),
  )
  const mark: Mark = { timeNs: '0', timeS: i, kind: 'fill', id: null, hold: null, fields: stated }
  const { fills, faults } = readFills([mark], [])
  return fills[0]
    ? { fill: fills[0], reading }
    : entry.fail('volume', `: ${faults[0].replace(/^.*? s: /, '')}`)
}
