import { readFills } from '#analysis/fuel-work/fill-marks.ts'
import { possibleDensity } from '#analysis/fuel-work/flow-plausible.ts'
import type { FlowRun, FlowSheet, Measured } from '#analysis/fuel-work/flow-result.ts'
import type { LevelGauge } from '#analysis/fuel-work/level-points.ts'
import type { LevelOrder, TypedPoint } from '#analysis/fuel-work/level-soundness.ts'
import {
  flowFields,
  flowOmittedFields,
  flowRunFields,
  levelPanelFields,
  levelPointFields,
  levelSenderFields,
} from '#analysis/fuel-work/sheet-fields.ts'
import type { Mark } from '#analysis/model/samples.ts'
import { type Channel, isTank, type Section, type System } from '#analysis/model/system.ts'
import { density60From } from '#analysis/physics/volume-correction.ts'
import { SheetEntries, sheetNames } from './sheet-entries.ts'

/** Mean flow of a channel of a recording; throws SheetError where there is none. */
export type ReadChannelFlow = (
  channel: string,
  recording: string,
  fromS: number,
  untilS: number,
) => { readonly flow: Measured; readonly seconds: number }

/**
 * Flow sheet: its own entries, `runs`, and `omitted` runs with `why`.
 *
 * @throws SheetError naming the first entry that is wrong
 */
export function readFlowSheet(value: unknown, system: System, readChannel: ReadChannelFlow): FlowSheet {
  const sheet = new SheetEntries(value, 'flow sheet')
  const is = sheet.read(flowFields, system)
  const { density, 'density-at': densityAt } = is
  if (density !== null && densityAt === null)
    sheet.fail('density-at', 'is missing: the temperature of the measured density')
  const runs = sheet
    .list('runs')
    .map((run, i) => readRun(new SheetEntries(run, `run ${i + 1}`), system, readChannel))
  const pumps = is.pumps?.filter((name) => name !== 'none') ?? null
  const strange = runs.find(({ pump }) => pump !== null && pump !== 'all' && pumps?.includes(pump) === false)
  if (strange) sheet.fail('pumps', `does not name ${strange.pump}, with which a run was made`)
  const omitted = sheet.list('omitted').map((one, i) => {
    const entry = new SheetEntries(one, `omitted ${i + 1}`)
    const read = entry.read(flowOmittedFields, system)
    entry.finish()
    return read
  })
  sheet.finish()
  if (density !== null && densityAt !== null) {
    const [low, high] = possibleDensity(is.fuel)
    const at15 = density60From(density.value, densityAt.value)
    if (at15 < low || at15 > high)
      sheet.fail(
        'density',
        `of ${(density.value / 1000).toFixed(3)} kg/L is not that of ${is.fuel} (${(low / 1000).toFixed(2)} to ${(high / 1000).toFixed(2)} kg/L at 15 °C): measure again, or name the fuel that it is`,
      )
  }
  return {
    fuel: is.fuel,
    takeOffM3PerS: is['take-off-flow'],
    takeOffSource: is['take-off-flow-source'],
    rules: is.rules,
    climbDeg: is['climb-attitude'],
    marginDeg: is['climb-margin'],
    pumps,
    inletLimitsPa: is['inlet-limits'],
    inletLimitsSource: is['inlet-limits-source'],
    measuredDensity:
      density && densityAt
        ? { densityKgM3: density.value, stdKgM3: density.std, temperatureK: densityAt.value }
        : null,
    runs,
    omitted,
    tanks: system.sections.filter(isTank),
  }
}

function readRun(run: SheetEntries, system: System, readChannel: ReadChannelFlow): FlowRun {
  const is = run.read(flowRunFields, system)
  run.finish()
  const { weighed, measured, channel, time } = is
  if ([weighed, measured, channel].filter((one) => one !== null).length !== 1)
    run.fail('weighed', 'or measured or channel: name exactly one')
  const shared = {
    tank: is.tank,
    feed: is.feed,
    pump: is.pump,
    temperatureK: is.temperature,
    attitudeDeg: is.attitude,
    inTankM3: is['in-tank'],
    lowestHead: is['lowest-head'],
    outlet: is.outlet,
    inletPa: is['inlet-pressure'],
  }
  if (channel !== null) {
    const from = is.recording ?? run.fail('recording', 'is missing')
    const read = readChannel(channel, from, is.from ?? 0, is.to ?? Number.POSITIVE_INFINITY)
    const delivered = { by: 'channel', m3PerS: read.flow, channel } as const
    return { ...shared, delivered, seconds: { value: read.seconds, std: 0 } }
  }
  return {
    ...shared,
    seconds: time ?? run.fail('time', 'is missing'),
    delivered: weighed ? { by: 'mass', shownKg: weighed } : { by: 'volume', m3: measured! },
  }
}

/** What a level calibration is asked: which gauge of which tank, from which recordings or typed points. */
export interface LevelSheet {
  readonly channel: LevelGauge
  readonly section: Section
  readonly order: LevelOrder
  readonly recordings: readonly string[]
}

/**
 * Level sheet: `channel` and `recordings` of a logger, or `section`, `unit` and `points` typed from the panel; `steps`.
 *
 * @throws SheetError naming the first entry that is wrong
 */
export function readLevelSheet(value: unknown, system: System): LevelSheet {
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
    channel: gauge,
    section: system.sections.find(({ id }) => id === gauge.section)!,
    recordings,
    order: {
      steps,
      typed,
      readingStep: gauge.resolutionSi ?? 0,
      unusable: found && { m3: found.value, halfWidthM3: found.tolerance ?? 0, how },
    },
  }
}

type GaugeOf = Pick<LevelSheet, 'recordings'> & { readonly gauge: LevelGauge & Pick<Channel, 'section'> }

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
function readSteps(sheet: SheetEntries): LevelOrder['steps'] {
  const stated = sheet.optional('steps') ?? 8
  if (!Array.isArray(stated)) {
    const count = Number(stated)
    return Number.isInteger(count) && count >= 2 && count <= 64
      ? count
      : sheet.fail('steps', 'is no whole number from 2 to 64, and no list of amounts')
  }
  const marks = sheet
    .texts('steps')
    .map((text) => new SheetEntries({ mark: text }, 'steps').quantity('mark', 'volume').value)
  if (marks.length === 0 || marks.some((m3, i) => !(m3 > (marks[i - 1] ?? 0))))
    sheet.fail('steps', 'is a list of rising amounts, such as 5 L, 15 L, 30 L')
  return marks
}

/** A typed point is a fill mark with a reading; points stand in the order in which they were taken. */
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
