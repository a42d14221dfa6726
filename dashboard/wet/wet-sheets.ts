import type { FlowRun, FlowSheet, Measured } from '#analysis/fuel-work/flow-result.ts'
import type { WorkEntry } from '#analysis/fuel-work/judge-torque.ts'
import type { WetSheet } from '#analysis/fuel-work/judge-wet-stage.ts'
import { type EarlierStage, stagesBefore } from '#analysis/fuel-work/stage-order.ts'
import { type WetStageName, wetStage, wetStages } from '#analysis/fuel-work/wet-stages.ts'
import type { Verdict } from '#analysis/model/hold-result.ts'
import type { Channel, Section, System } from '#analysis/model/system.ts'
import { SheetEntries, SheetError } from './sheet-entries.ts'

const fuels = ['avgas', 'mogas', 'jet-a'] as const
const findings = ['dry', 'stain', 'seep', 'bubbles', 'drip'] as const
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
  return { fuel, takeOffM3PerS, takeOffSource, climbDeg, measuredDensity, runs }
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
 * @param holdVerdict verdict of a hold record of the archive; null when there is none
 * @param sealed wet stages of the archive
 * @throws SheetError naming the first entry that is wrong
 */
export function readWetSheet(
  value: unknown,
  system: System,
  holdVerdict: (record: string) => Verdict | null,
  sealed: readonly EarlierStage[],
): WetSheet & { readonly photos: readonly string[] } {
  const sheet = new SheetEntries(value, 'wet sheet')
  const stage = sheet.word('stage', stageNames)
  const sections = sheet.texts('sections')
  for (const id of sections)
    if (!system.sections.some((section) => section.id === id))
      sheet.fail('sections', `names ${id}, which the system file has not`)
  const all = system.fittings.filter(({ section }) => sections.includes(section)).map(({ id }) => id)
  const named = sheet.texts('fittings')
  const stranger = named.find((id) => !all.includes(id))
  if (stranger !== undefined)
    sheet.fail('fittings', `names ${stranger}, which is not in ${sections.join(', ')}`)
  const fittings = named.length > 0 ? named : all
  const beganNs = sheet.instantNs('began')
  const fuel = sheet.word('fuel', fuels)
  const temperatureK = sheet.quantity('temperature', 'temperature').value
  const holdRecord = sheet.optionalText('hold-record')
  const photos = sheet.texts('photos')
  const done = readDone(sheet, wetStage(stage)!.steps.length)
  const looks = sheet.list('looks').map((look, i) => {
    const entry = new SheetEntries(look, `look ${i + 1}`)
    const read = {
      fitting: entry.word('fitting', fittings),
      atS: entry.quantity('after', 'time').value,
      finding: entry.word('finding', findings),
      spreadM: entry.optionalQuantity('spread', 'length')?.value ?? null,
      sinceWipeS: entry.optionalQuantity('since-wipe', 'time')?.value ?? null,
      headM: entry.optionalQuantity('head', 'length')?.value ?? null,
    }
    entry.finish()
    return read
  })
  sheet.finish()
  const verdict = holdRecord === null ? null : holdVerdict(holdRecord)
  return {
    stage,
    sections,
    fittings,
    beganNs,
    fuel,
    temperatureK,
    looks,
    holdRecord,
    holdVerdict: verdict,
    done,
    before: stagesBefore(stage, sections, beganNs, sealed),
    photos,
  }
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
export function readWorkSheet(value: unknown, system: System): (WorkEntry & { readonly fitting: string })[] {
  const sheet = new SheetEntries(value, 'work sheet')
  const lines = sheet.list('work')
  sheet.finish()
  if (lines.length === 0) throw new SheetError('work sheet: work names no fitting')
  return lines.map((line, i) => {
    const entry = new SheetEntries(line, `work ${i + 1}`)
    const torque = entry.optionalQuantity('torque', 'torque')
    if (torque !== null && !(torque.value > 0)) entry.fail('torque', 'must be above zero')
    const read = {
      fitting: entry.word(
        'fitting',
        system.fittings.map(({ id }) => id),
      ),
      action: entry.word('action', actions),
      torqueNm: torque?.value ?? null,
      toleranceNm: torque?.tolerance ?? null,
      makerRangeNm: entry.range('range', 'torque'),
      makerSource: entry.optionalText('range-source'),
      tool: entry.optionalText('tool'),
      toolCalibrated: entry.day('calibrated'),
      toolDue: entry.day('due'),
      by: entry.text('by'),
      timeNs: entry.instantNs('at'),
      stripe: entry.flag('stripe') ?? false,
    }
    entry.finish()
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
