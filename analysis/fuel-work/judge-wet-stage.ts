import type { Verdict } from '#analysis/model/hold-result.ts'
import type { System } from '#analysis/model/system.ts'
import { fuelDensity, headPressurePa } from '#analysis/physics/fuel-properties.ts'
import { findings, judged, type WeighedReason } from './findings.ts'
import { handbookScheme, type SeepScheme, seepClass } from './looks.ts'
import type { WetLook, WetSheet } from './wet-sheet.ts'
import { stagesEarlierThan, type WetStage, wetStage } from './wet-stages.ts'

const say = findings({
  void: { 'nothing-wetted': 'No joint is named that fuel touched.' },
  fail: { 'fuel-outside': 'Fuel came out at {ids}: stop, drain below it, then work on it.' },
  undecided: {
    'not-looked-at': 'Not yet inspected after the whole soak of {soak}: {ids}.',
    'look-not-signed': 'Inspected without saying who looked and how: {ids}. Such a look does not count.',
    'fittings-left-out':
      'Joints of the same sections left out without a reason: {ids}. Inspect them, or state why not.',
    'safety-step-open': 'Safety steps not done: {steps}. No reason excuses them.',
    'steps-not-ticked': 'Steps neither done nor omitted with a reason: {steps}.',
    'earlier-stage-open':
      'The earlier stage “{title}” did not pass ({record}: {verdict}): correct it and repeat it first.',
    'stage-skipped': '“{title}” of {ids} is not in the archive: do it first, or state why it is omitted.',
    'liquid-hold': '{hold}.',
  },
  note: {
    'fittings-omitted': 'Not inspected here: {why}.',
    'looks-withdrawn': 'Looks withdrawn: {why}.',
    'steps-omitted': 'Steps omitted: {why}.',
    'stage-omitted': 'Omitted: “{title}” of {ids} ({why}).',
    'liquid-hold-omitted': 'No liquid hold was made ({why}).',
    'leave-to-go-on': 'Dry here is permission to go on, not yet proof.',
    'all-dry': '{all}.',
  },
})

/** A dry look that names who looked and how. */
const isSigned = ({ by, how }: WetLook): boolean => by !== null && how.length > 0

/**
 * Judges one wet stage. Any fuel outside fails it. It passes only when every joint of its sections was dry at a signed look
 * after the whole soak, every step was done and every earlier stage passed. An omission needs a reason; no reason excuses
 * a safety step.
 */
export function judgeWetStage(sheet: WetSheet, system: System) {
  const stage = wetStage(sheet.stage)!
  const scheme = handbookScheme
  const densityKgM3 =
    sheet.fuel === null || sheet.temperatureK === null
      ? null
      : fuelDensity(sheet.fuel, sheet.temperatureK, null).densityKgM3
  const looks = sheet.looks.filter(({ withdrawn }) => withdrawn === null)
  const wept = sheet.fittings.filter((id) => looks.some((l) => l.fitting === id && l.finding !== 'dry'))
  const dry = sheet.fittings.filter(
    (id) => !wept.includes(id) && looks.some((l) => l.fitting === id && l.atS >= stage.soakS && isSigned(l)),
  )
  const isTank = (id: string) => system.sections.some((one) => one.id === id && one.kind === 'tank')
  const tanks = sheet.sections.filter(isTank)
  /** Conditions for a dry joint to count as proof. */
  const conditions = [
    ...(stage.name === 'pump-on' ? liquidHoldReason(sheet, stage) : []),
    ...orderReasons(sheet, tanks.length > 0 ? tanks : sheet.sections),
    ...stepReasons(sheet, stage),
  ]
  const found = [...(stage.looks ? lookReasons(sheet, stage, wept, dry, system) : []), ...conditions]
  const all = stage.looks
    ? `All ${dry.length} joints were dry after ${span(stage.soakS)}`
    : 'Every step was done, or is omitted with its reason'
  const reasons = [
    ...found,
    ...(stage.looks && !stage.proves ? say('leave-to-go-on') : []),
    ...(found.some(({ weight }) => weight !== null) ? [] : say('all-dry', { all })),
  ]
  const lastS = Math.max(0, ...looks.map(({ atS }) => atS))
  const inOrder = conditions.every(({ weight }) => weight === null)
  return {
    stillhold: 1 as const,
    subject: `${sheet.stage}-${sheet.sections.join('-')}`,
    stage: sheet.stage,
    sections: sheet.sections,
    ...judged(reasons),
    /** End of the stage: the last look, epoch nanoseconds. */
    time_ns: String(BigInt(sheet.beganNs) + BigInt(Math.round(lastS)) * 1_000_000_000n),
    soak_s: lastS,
    /** Joints that fuel touched, joints that this stage proves wet, and joints where fuel came out. */
    fittings: sheet.fittings,
    proves: stage.proves && inOrder ? dry : [],
    wept,
    fuel: sheet.fuel,
    density_kg_per_m3: densityKgM3,
    hold_record: sheet.holdRecord,
    hold_verdict: sheet.holdVerdict,
    /** The checklist as it was ticked. */
    steps: stage.steps.map(({ text }, i) => ({
      text,
      done: sheet.done.includes(i + 1),
      omitted: sheet.omitted.steps.get(i + 1) ?? null,
    })),
    /** The earlier stages that it relies on. */
    before: sheet.before.map(({ timeNs: _, ...one }) => one),
    scheme: { name: scheme.name, source: scheme.source, classes: classWords(scheme) },
    looks: sheet.looks.map((look) => ({
      fitting: look.fitting,
      after_s: look.atS,
      finding: look.finding,
      by: look.by,
      how: look.how.join(', '),
      clock: look.stamped ? ('bench' as const) : ('typed' as const),
      class: classOf(look, scheme),
      spread_mm: look.spreadM === null ? null : look.spreadM * 1e3,
      head_Pa: look.headM === null || densityKgM3 === null ? null : headPressurePa(densityKgM3, look.headM),
      since_wipe_s: look.sinceWipeS,
      withdrawn: look.withdrawn,
    })),
  }
}

/** Result of a wet stage, sealed as a record of kind `wet`. */
export type WetResult = ReturnType<typeof judgeWetStage>

/** Results of the looks at the joints, and joints without a look. */
function lookReasons(
  sheet: WetSheet,
  stage: WetStage,
  wept: readonly string[],
  dry: readonly string[],
  system: System,
): WeighedReason[] {
  const some = <T>(list: readonly T[], found: (list: readonly T[]) => WeighedReason[]) =>
    list.length > 0 ? found(list) : []
  const open = sheet.fittings.filter((id) => !wept.includes(id) && !dry.includes(id))
  const unsigned = open.filter((id) =>
    sheet.looks.some((l) => l.fitting === id && l.atS >= stage.soakS && l.withdrawn === null),
  )
  const unseen = open.filter((id) => !unsigned.includes(id))
  const missing = system.fittings
    .filter(({ id, section }) => sheet.sections.includes(section) && !sheet.fittings.includes(id))
    .map(({ id }) => id)
  const reasonOf = (id: string) => sheet.omitted.fittings.get(id)
  const explained = missing.filter((id) => reasonOf(id) !== undefined)
  const withdrawn = sheet.looks.filter((look) => look.withdrawn !== null)
  return [
    ...(sheet.fittings.length === 0 ? say('nothing-wetted') : []),
    ...some(wept, (ids) => say('fuel-outside', { ids })),
    ...some(unseen, (ids) => say('not-looked-at', { ids, soak: span(stage.soakS) })),
    ...some(unsigned, (ids) => say('look-not-signed', { ids })),
    ...some(
      missing.filter((id) => reasonOf(id) === undefined),
      (ids) => say('fittings-left-out', { ids }),
    ),
    ...some(explained, (ids) => say('fittings-omitted', { why: ids.map((id) => `${id} (${reasonOf(id)})`) })),
    ...some(withdrawn, (all) =>
      say('looks-withdrawn', { why: all.map((l) => `${l.fitting} ${l.finding} (${l.withdrawn})`) }),
    ),
  ]
}

/** A step not done keeps the stage open; a reason excuses it, but never a safety step. */
function stepReasons({ done, omitted }: WetSheet, stage: WetStage): WeighedReason[] {
  const open = stage.steps
    .map(({ safety }, i) => ({ n: i + 1, safety, why: omitted.steps.get(i + 1) }))
    .filter(({ n }) => !done.includes(n))
  const of = (steps: typeof open) => ({ steps: steps.map(({ n }) => n) })
  const unsafe = open.filter(({ safety }) => safety)
  const unexplained = open.filter(({ safety, why }) => !safety && why === undefined)
  const explained = open.filter(({ safety, why }) => !safety && why !== undefined)
  return [
    ...(unsafe.length > 0 ? say('safety-step-open', of(unsafe)) : []),
    ...(unexplained.length > 0 ? say('steps-not-ticked', of(unexplained)) : []),
    ...(explained.length > 0
      ? say('steps-omitted', { why: explained.map(({ n, why }) => `${n} (${why})`) })
      : []),
  ]
}

/** An earlier stage that did not pass, or is missing for one of the tanks without a reason, keeps a stage open. */
function orderReasons({ stage, before, omitted }: WetSheet, tanks: readonly string[]): WeighedReason[] {
  return [
    ...before
      .filter(({ verdict }) => verdict !== 'pass')
      .flatMap(({ record, stage: name, verdict }) =>
        say('earlier-stage-open', { title: wetStage(name)!.title, record, verdict }),
      ),
    ...stagesEarlierThan(stage).flatMap(({ name, title }) => {
      const covered = new Set(before.filter((one) => one.stage === name).flatMap(({ sections }) => sections))
      const ids = tanks.filter((id) => !covered.has(id))
      const why = omitted.stages.get(name)
      if (ids.length === 0) return []
      return why === undefined
        ? say('stage-skipped', { title, ids })
        : say('stage-omitted', { title, ids, why })
    }),
  ]
}

/** The verdict of the liquid hold between pump and closed end decides. */
function liquidHoldReason({ holdRecord, holdVerdict, omitted }: WetSheet, stage: WetStage): WeighedReason[] {
  const why = omitted.steps.get(stage.steps.findIndex(({ hold }) => hold) + 1)
  if (holdRecord === null)
    return why === undefined
      ? say('liquid-hold', { hold: 'The liquid hold between pump and closed end is not named' })
      : say('liquid-hold-omitted', { why })
  if (holdVerdict === null) return say('liquid-hold', { hold: `No hold of the archive is ${holdRecord}` })
  const weight: Verdict | null = holdVerdict === 'pass' ? null : holdVerdict
  const hold = `The liquid hold ${holdRecord} between pump and closed end: ${holdVerdict}`
  return say('liquid-hold', { hold }).map((reason) => ({ ...reason, weight }))
}

function classOf(look: WetLook, scheme: SeepScheme): string | null {
  if (look.finding === 'dry') return null
  if (look.finding === 'drip') return seepClass(scheme, 0, null, true).name
  if (look.spreadM === null) return null
  const { name, full } = seepClass(scheme, look.spreadM, look.sinceWipeS)
  return full ? name : `${name} or more`
}

function classWords({ classes }: SeepScheme): string {
  return classes
    .map(({ name, underM }) =>
      underM === null ? `${name} above` : `${name} under ${(underM * 1e3).toFixed(0)} mm`,
    )
    .join(', ')
}

function span(seconds: number): string {
  return seconds >= 5400 ? `${(seconds / 3600).toFixed(0)} h` : `${Math.round(seconds / 60)} min`
}
