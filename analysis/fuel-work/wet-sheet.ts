import type { Verdict } from '#analysis/model/hold-result.ts'
import type { Recording } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { type LookMethod, lookMethods } from './looks.ts'
import { SheetEntries, shortUtc } from './sheet-entries.ts'
import { fuelWords, lookFields } from './sheet-fields.ts'
import { stagesEarlierThan, type WetStageName, wetStage, wetStages } from './wet-stages.ts'

const stageNames: readonly WetStageName[] = wetStages.map(({ name }) => name)

/**
 * Sheet of a wet stage. Without `fittings`, fuel touched every fitting of the sections.
 *
 * @param around verdict of a hold record, wet stages of the archive, and the current time, the latest time of a look
 * @throws SheetError naming the first entry that is wrong
 */
export function readWetSheet(
  value: unknown,
  system: System,
  around: Pick<Surroundings, 'holdVerdict' | 'sealedStages' | 'nowNs' | 'stampsCount'>,
) {
  const sheet = new SheetEntries(value, 'wet sheet')
  const stage = sheet.word('stage', stageNames)
  const { steps, looks: inspected } = wetStage(stage)!
  const sections = sheet.texts('sections')
  if (sections.length === 0) sheet.fail('sections', 'names no section')
  for (const id of sections)
    if (!system.sections.some((section) => section.id === id))
      sheet.fail('sections', `names ${id}, which is not in the system file`)
  const all = system.fittings.filter(({ section }) => sections.includes(section)).map(({ id }) => id)
  const named = sheet.texts('fittings')
  const stranger = named.find((id) => !all.includes(id))
  if (stranger !== undefined)
    sheet.fail('fittings', `names ${stranger}, which is not in ${sections.join(', ')}`)
  const beganNs = sheet.instantNs('began')
  const nowNs = around.nowNs()
  if (BigInt(beganNs) > nowNs) sheet.fail('began', `is later than now (${shortUtc(nowNs)})`)
  // A stage without looks may name the fuel, which has no effect.
  for (const key of ['fuel', 'temperature']) sheet.optional(key)
  const fuel = inspected ? sheet.word('fuel', fuelWords) : null
  const temperatureK = inspected ? sheet.quantity('temperature', 'temperature').value : null
  const holdRecord = sheet.optionalText('hold-record')
  // Not part of the judgement: the command reads pictures, people read the journal of a saved sheet.
  sheet.texts('photos')
  sheet.list('journal')
  const done = readDone(sheet, steps.length)
  const omitted = readOmitted(sheet, stage, all)
  const fittings = (named.length > 0 ? named : all).filter((id) => !omitted.fittings.has(id))
  const everyLook = { by: sheet.optionalText('by'), how: readMethods(sheet) }
  const looks = sheet.list('looks').map((look, i) => {
    const entry = new SheetEntries(look, `look ${i + 1}`)
    const read = readLook(entry, system, fittings, beganNs, everyLook)
    if (read.stamped && !around.stampsCount) entry.fail('stamped', 'is for looks recorded by the server')
    if (BigInt(beganNs) + BigInt(Math.round(read.atS * 1e9)) > nowNs)
      entry.fail('after', `is later than now (${shortUtc(nowNs)}): enter a look after it is done`)
    return read
  })
  sheet.finish()
  return {
    stage,
    sections: sections as readonly string[],
    /** Fittings that fuel touched; without those of the sections above its surface. */
    fittings: fittings as readonly string[],
    beganNs,
    /** Null in a stage without looks: no fuel is judged there. */
    fuel,
    temperatureK,
    looks: looks as readonly WetLook[],
    /** Record of the liquid hold; needed for the stage with the pump on. */
    holdRecord,
    holdVerdict: holdRecord === null ? null : around.holdVerdict(holdRecord),
    /** Steps of the checklist that were ticked, counted from 1. */
    done: done as readonly number[],
    omitted,
    before: stagesBefore(stage, sections, beganNs, around.sealedStages()) as readonly EarlierStage[],
  }
}
export type WetSheet = ReturnType<typeof readWetSheet>

/** One look, `at` an instant or `after` a time; `by` and `how` may be given once for all looks of the sheet. */
function readLook(
  entry: SheetEntries,
  system: System,
  fittings: readonly string[],
  beganNs: string,
  every: { readonly by: string | null; readonly how: readonly LookMethod[] },
) {
  const is = entry.read(lookFields, system)
  if (!fittings.includes(is.fitting))
    entry.fail('fitting', `"${is.fitting}" is none of ${fittings.join(', ')}`)
  const { at, after } = is
  if ((at === null) === (after === null)) entry.fail('after', 'or at: give exactly one')
  const atS = after?.value ?? Number(BigInt(entry.instantNs('at')) - BigInt(beganNs)) / 1e9
  if (!(atS >= 0)) entry.fail('at', 'is before the stage began')
  const how = readMethods(entry)
  const read = {
    fitting: is.fitting,
    /** Since the stage began (filled, opened, pump on). */
    atS,
    finding: is.finding,
    /** Who looked, and how; a dry look counts only with both. */
    by: is.by ?? every.by,
    how: how.length > 0 ? how : every.how,
    /** Whether the bench's clock gave the time; otherwise it was typed. */
    stamped: is.stamped ?? false,
    spreadM: is.spread?.value ?? null,
    sinceWipeS: is['since-wipe']?.value ?? null,
    headM: is.head?.value ?? null,
    withdrawn: is.withdrawn,
  }
  entry.finish()
  return read
}
export type WetLook = ReturnType<typeof readLook>

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

/** `omitted`: a list of omissions (step, stage or fitting), each with `why`. */
function readOmitted(sheet: SheetEntries, stage: WetStageName, all: readonly string[]) {
  const { steps } = wetStage(stage)!
  const earlier = stagesEarlierThan(stage).map(({ name }) => name)
  const omitted = {
    /** By step, counted from 1. */
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

/** External references of a sheet. */
export interface Surroundings {
  /** A recording by the name the sheet gives it. @throws SheetError when there is none */
  readonly recording: (name: string) => Recording
  /** Verdict of a hold record; null when there is none. */
  readonly holdVerdict: (record: string) => Verdict | null
  /** Wet stages sealed so far. */
  readonly sealedStages: () => readonly EarlierStage[]
  /** The time of judging, epoch nanoseconds; of a sealed record, the time of sealing. Nothing on a sheet is later. */
  readonly nowNs: () => bigint
  /** Whether the server saved the sheet and stamped its looks; a typed sheet cannot claim this. */
  readonly stampsCount: boolean
}

/** An earlier sealed wet stage. */
export interface EarlierStage {
  readonly record: string
  readonly stage: WetStageName
  readonly sections: readonly string[]
  readonly verdict: Verdict
  /** Its last look, epoch nanoseconds. */
  readonly timeNs: string
}

/** The last of each earlier stage on each of the sections, up to when this one began. */
export function stagesBefore(
  stage: WetStageName,
  sections: readonly string[],
  beganNs: string,
  sealed: readonly EarlierStage[],
): EarlierStage[] {
  const found = stagesEarlierThan(stage).flatMap(({ name }) =>
    sections.flatMap((id) => {
      const of = sealed.filter(
        (one) => one.stage === name && one.sections.includes(id) && BigInt(one.timeNs) <= BigInt(beganNs),
      )
      return of.length === 0
        ? []
        : [of.reduce((last, one) => (BigInt(one.timeNs) >= BigInt(last.timeNs) ? one : last))]
    }),
  )
  return [...new Set(found)]
}
