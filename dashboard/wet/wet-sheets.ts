import { possibleDensity } from '#analysis/fuel-work/flow-plausible.ts'
import type { FlowRun, FlowSheet, Measured } from '#analysis/fuel-work/flow-result.ts'
import type { WorkEntry } from '#analysis/fuel-work/judge-torque.ts'
import type { Omissions, WetLook, WetSheet } from '#analysis/fuel-work/judge-wet-stage.ts'
import { type LookMethod, lookMethods, wetFindings } from '#analysis/fuel-work/look-methods.ts'
import { stagesBefore } from '#analysis/fuel-work/stage-order.ts'
import { stagesEarlierThan, type WetStageName, wetStage, wetStages } from '#analysis/fuel-work/wet-stages.ts'
import type { Channel, Section, System } from '#analysis/model/system.ts'
import { density60From } from '#analysis/physics/volume-correction.ts'
import type { Surroundings } from './judge-work.ts'
import { SheetEntries, SheetError } from './sheet-entries.ts'

const fuels = ['avgas', 'mogas', 'jet-a'] as const
const actions = ['retighten', 'remake', 'reseal', 'replace'] as const
const stageNames: readonly WetStageName[] = wetStages.map(({ name }) => name)

/** Mean flow of a channel of a recording; throws SheetError where there is none. */
export type ReadChannelFlow = (
  channel: string,
  recording: string,
  fromS: number,
  untilS: number,
) => { readonly flow: Measured; readonly seconds: number }

/**
 * Flow sheet: `fuel`, `take-off-flow`, `runs` and the conditions.
 *
 * @throws SheetError naming the first entry that is wrong
 */
export function readFlowSheet(value: unknown, system: System, readChannel: ReadChannelFlow): FlowSheet {
  const sheet = new SheetEntries(value, 'flow sheet')
  const fuel = sheet.word('fuel', fuels)
  const takeOffM3PerS = sheet.quantity('take-off-flow', 'volume-flow')
  if (!(takeOffM3PerS.value > 0)) sheet.fail('take-off-flow', 'must be above zero')
  const takeOffSource = sheet.optionalText('take-off-flow-source')
  const climbDeg = sheet.number('climb-attitude')
  const density = sheet.optionalQuantity('density', 'density')
  const densityAt = sheet.optionalQuantity('density-at', 'temperature')
  if (density !== null && densityAt === null)
    sheet.fail('density-at', 'is missing: the temperature of the measured density')
  const runs = sheet
    .list('runs')
    .map((run, i) => readRun(new SheetEntries(run, `run ${i + 1}`), system, readChannel))
  sheet.finish()
  const measuredDensity =
    density === null || densityAt === null
      ? null
      : { densityKgM3: density.value, stdKgM3: density.std, temperatureK: densityAt.value }
  if (measuredDensity) {
    const [low, high] = possibleDensity(fuel)
    const at15 = density60From(measuredDensity.densityKgM3, measuredDensity.temperatureK)
    if (at15 < low || at15 > high)
      sheet.fail(
        'density',
        `of ${(measuredDensity.densityKgM3 / 1000).toFixed(3)} kg/L is not that of ${fuel} (${(low / 1000).toFixed(2)} to ${(high / 1000).toFixed(2)} kg/L at 15 °C): measure again, or name the fuel that it is`,
      )
  }
  // An unstated kind is judged from the volume: five liters are no line.
  const tanks = system.sections
    .filter((s) => s.kind === 'tank' || (s.kind === null && s.volumeM3 > 5e-3))
    .map((s) => s.id)
  return { fuel, takeOffM3PerS, takeOffSource, climbDeg, measuredDensity, runs, tanks }
}

function readRun(run: SheetEntries, system: System, readChannel: ReadChannelFlow): FlowRun {
  const tank = run.word(
    'tank',
    system.sections.map(({ id }) => id),
  )
  const feed = run.word('feed', ['gravity', 'pump'] as const)
  const pump = run.optionalText('pump')
  const weighed = run.optionalQuantity('weighed', 'mass')
  const measured = run.optionalQuantity('measured', 'volume')
  const channel = run.optionalText('channel')
  const temperatureK = run.quantity('temperature', 'temperature')
  const attitudeDeg = run.number('attitude')
  const lowestHead = run.flag('lowest-head')
  const given = [weighed, measured, channel].filter((one) => one !== null).length
  if (given !== 1) run.fail('weighed', 'or measured or channel: name exactly one')
  const shared = { tank, feed, pump, temperatureK, attitudeDeg, lowestHead }
  if (channel !== null) {
    const read = readChannel(
      channel,
      run.text('recording'),
      run.number('from') ?? 0,
      run.number('to') ?? Number.POSITIVE_INFINITY,
    )
    run.finish()
    return {
      ...shared,
      delivered: { by: 'channel', m3PerS: read.flow, channel },
      seconds: { value: read.seconds, std: 0 },
    }
  }
  const seconds = run.quantity('time', 'time')
  if (!(seconds.value > 0)) run.fail('time', 'must be above zero')
  run.finish()
  const caught = weighed ?? measured!
  if (!(caught.value > 0)) run.fail(weighed ? 'weighed' : 'measured', 'must be above zero')
  return {
    ...shared,
    seconds,
    delivered: weighed ? { by: 'mass', shownKg: caught } : { by: 'volume', m3: caught },
  }
}

/**
 * Sheet of a wet stage. Without `fittings`, fuel touched every fitting of the sections.
 *
 * @param around verdict of a hold record, wet stages of the archive, and the time now, which no look can be later than
 * @throws SheetError naming the first entry that is wrong
 */
export function readWetSheet(
  value: unknown,
  system: System,
  around: Pick<Surroundings, 'holdVerdict' | 'sealedStages' | 'nowNs' | 'stampsCount'>,
): WetSheet {
  const sheet = new SheetEntries(value, 'wet sheet')
  const stage = sheet.word('stage', stageNames)
  const { steps, looks: inspected } = wetStage(stage)!
  const sections = sheet.texts('sections')
  if (sections.length === 0) sheet.fail('sections', 'names no section')
  for (const id of sections)
    if (!system.sections.some((section) => section.id === id))
      sheet.fail('sections', `names ${id}, which the system file has not`)
  const all = system.fittings.filter(({ section }) => sections.includes(section)).map(({ id }) => id)
  const named = sheet.texts('fittings')
  const stranger = named.find((id) => !all.includes(id))
  if (stranger !== undefined)
    sheet.fail('fittings', `names ${stranger}, which is not in ${sections.join(', ')}`)
  const beganNs = sheet.instantNs('began')
  const nowNs = around.nowNs()
  if (BigInt(beganNs) > nowNs) sheet.fail('began', `is later than now (${utc(nowNs)})`)
  // A stage without looks may name the fuel; nothing is judged by it.
  for (const key of ['fuel', 'temperature']) sheet.optional(key)
  const fuel = inspected ? sheet.word('fuel', fuels) : null
  const temperatureK = inspected ? sheet.quantity('temperature', 'temperature').value : null
  const holdRecord = sheet.optionalText('hold-record')
  // Read beside the sheet: pictures by the command, the journal of a saved sheet by people.
  sheet.texts('photos')
  sheet.list('journal')
  const done = readDone(sheet, steps.length)
  const omitted = readOmitted(sheet, stage, all)
  const fittings = (named.length > 0 ? named : all).filter((id) => !omitted.fittings.has(id))
  const everyLook = { by: sheet.optionalText('by'), how: readMethods(sheet) }
  const looks = sheet.list('looks').map((look, i) => {
    const entry = new SheetEntries(look, `look ${i + 1}`)
    const read = readLook(entry, fittings, beganNs, everyLook)
    if (read.stamped && !around.stampsCount) entry.fail('stamped', 'is what the server says of its own looks')
    if (BigInt(beganNs) + BigInt(Math.round(read.atS * 1e9)) > nowNs)
      entry.fail('after', `is later than now (${utc(nowNs)}): enter a look when it has been done`)
    return read
  })
  sheet.finish()
  return {
    stage,
    sections,
    fittings,
    beganNs,
    fuel,
    temperatureK,
    looks,
    holdRecord,
    holdVerdict: holdRecord === null ? null : around.holdVerdict(holdRecord),
    done,
    omitted,
    before: stagesBefore(stage, sections, beganNs, around.sealedStages()),
  }
}

const utc = (ns: bigint): string => `${new Date(Number(ns / 1_000_000n)).toISOString().slice(0, 16)}Z`

/** One look, `at` an instant or `after` a time; `by` and `how` may stand once for all looks of the sheet. */
function readLook(
  entry: SheetEntries,
  fittings: readonly string[],
  beganNs: string,
  every: Pick<WetLook, 'by' | 'how'>,
): WetLook {
  const fitting = entry.word('fitting', fittings)
  const at = entry.optionalText('at')
  const after = entry.optionalQuantity('after', 'time')
  if ((at === null) === (after === null)) entry.fail('after', 'or at: give exactly one')
  const atS = after?.value ?? Number(BigInt(entry.instantNs('at')) - BigInt(beganNs)) / 1e9
  if (!(atS >= 0)) entry.fail('at', 'lies before the stage began')
  const how = readMethods(entry)
  const read = {
    fitting,
    atS,
    finding: entry.word('finding', wetFindings),
    by: entry.optionalText('by') ?? every.by,
    how: how.length > 0 ? how : every.how,
    stamped: entry.flag('stamped') ?? false,
    spreadM: entry.optionalQuantity('spread', 'length')?.value ?? null,
    sinceWipeS: entry.optionalQuantity('since-wipe', 'time')?.value ?? null,
    headM: entry.optionalQuantity('head', 'length')?.value ?? null,
    withdrawn: entry.optionalText('withdrawn'),
  }
  entry.finish()
  return read
}

const methodNames = lookMethods.map(({ name }) => name)

/** `how: paper`, or a list of methods. */
function readMethods(entry: SheetEntries): readonly LookMethod[] {
  const stated = entry.optional('how')
  if (stated === null) return []
  return (Array.isArray(stated) ? stated : [stated]).map(
    (word) =>
      methodNames.find((name) => name === word) ??
      entry.fail('how', `"${word}" is none of ${methodNames.join(', ')}`),
  )
}

/** `omitted`: a list of what was left out (step, stage or fitting), each with `why`. */
function readOmitted(sheet: SheetEntries, stage: WetStageName, all: readonly string[]): Omissions {
  const { steps } = wetStage(stage)!
  const earlier = stagesEarlierThan(stage).map(({ name }) => name)
  const omitted = {
    steps: new Map<number, string>(),
    stages: new Map<string, string>(),
    fittings: new Map<string, string>(),
  }
  for (const [i, one] of sheet.list('omitted').entries()) {
    const entry = new SheetEntries(one, `omitted ${i + 1}`)
    const why = entry.text('why')
    const n = entry.number('step')
    const name = entry.optional('stage') === null ? null : entry.word('stage', earlier)
    const fitting = entry.optional('fitting') === null ? null : entry.word('fitting', all)
    entry.finish()
    if ([n, name, fitting].filter((what) => what !== null).length !== 1)
      entry.fail('step', 'or stage or fitting: name exactly one')
    if (n !== null) {
      if (!steps[n - 1]) entry.fail('step', `is a number from 1 to ${steps.length}`)
      if (steps[n - 1].safety) entry.fail('step', `${n} is a safety step: no reason excuses it`)
      omitted.steps.set(n, why)
    } else if (name !== null) omitted.stages.set(name, why)
    else omitted.fittings.set(fitting!, why)
  }
  return omitted
}

/** `done: all`, or a list of the steps that were done. */
function readDone(sheet: SheetEntries, count: number): number[] {
  const all = Array.from({ length: count }, (_, i) => i + 1)
  if (sheet.optional('done') === 'all') return all
  return sheet
    .list('done')
    .map((step) =>
      all.includes(step as number)
        ? (step as number)
        : sheet.fail('done', `is all, or a list of steps from 1 to ${count}`),
    )
}

/**
 * Work sheet: `work`, a list with one line a fitting.
 *
 * @throws SheetError naming the first entry that is wrong
 */
export function readWorkSheet(
  value: unknown,
  system: System,
  nowNs: bigint,
): (WorkEntry & { readonly fitting: string })[] {
  const sheet = new SheetEntries(value, 'work sheet')
  const lines = sheet.list('work')
  sheet.finish()
  if (lines.length === 0) throw new SheetError('work sheet: work names no fitting')
  return lines.map((line, i) => {
    const entry = new SheetEntries(line, `work ${i + 1}`)
    const torque = entry.optionalQuantity('torque', 'torque')
    if (torque !== null && !(torque.value > 0)) entry.fail('torque', 'must be above zero')
    const bolts = entry.number('bolts')
    const read = {
      fitting: entry.word(
        'fitting',
        system.fittings.map(({ id }) => id),
      ),
      action: entry.word('action', actions),
      torqueNm: torque?.value ?? null,
      toleranceNm: torque?.tolerance ?? null,
      torqueAsRead: entry.optionalText('torque'),
      runOnNm: entry.optionalQuantity('run-on', 'torque')?.value ?? null,
      threads:
        entry.optional('threads') === null ? null : entry.word('threads', ['lubricated', 'dry'] as const),
      makerRangeNm: entry.range('range', 'torque'),
      makerSource: entry.optionalText('range-source'),
      turn: entry.optionalText('turn'),
      bolts:
        bolts === null
          ? null
          : {
              count: bolts,
              passes: entry.number('passes') ?? entry.fail('passes', 'is missing'),
              sequence: entry.word('sequence', ['crosswise', 'star', 'around'] as const),
            },
      sealant: entry.optionalText('sealant'),
      cureS: entry.optionalQuantity('cure', 'time')?.value ?? null,
      tool: entry.optionalText('tool'),
      toolCalibrated: entry.day('calibrated'),
      toolDue: entry.day('due'),
      by: entry.text('by'),
      timeNs: entry.instantNs('at'),
      witnessMark: entry.flag('witness-mark') ?? entry.flag('stripe') ?? false,
    }
    entry.finish()
    if (BigInt(read.timeNs) > nowNs) entry.fail('at', `is later than now (${utc(nowNs)})`)
    return read
  })
}

/** What a level calibration is asked: which sender, into how many steps, from which recordings. */
export interface LevelSheet {
  readonly channel: Channel
  readonly section: Section
  readonly steps: number
  readonly recordings: readonly string[]
}

/**
 * Level sheet: `channel`, `steps`, `recordings`.
 *
 * @throws SheetError naming the first entry that is wrong
 */
export function readLevelSheet(value: unknown, system: System): LevelSheet {
  const sheet = new SheetEntries(value, 'level sheet')
  const senders = system.channels.filter(({ measures }) => measures === 'level-sender')
  if (senders.length === 0) sheet.fail('channel', 'cannot be: the system file names no level-sender')
  const id = sheet.word(
    'channel',
    senders.map((one) => one.id),
  )
  const steps = sheet.number('steps') ?? 8
  if (!Number.isInteger(steps) || steps < 2 || steps > 64)
    sheet.fail('steps', 'is no whole number from 2 to 64')
  const recordings = sheet.texts('recordings')
  if (recordings.length === 0) sheet.fail('recordings', 'names no recording with fill marks')
  const twice = recordings.find((name, i) => recordings.indexOf(name) !== i)
  if (twice !== undefined) sheet.fail('recordings', `names ${twice} twice`)
  sheet.finish()
  const channel = senders.find((one) => one.id === id)!
  return { channel, section: system.sections.find((one) => one.id === channel.section)!, steps, recordings }
}
