import type { Verdict, WordedReason } from '#analysis/model/hold-result.ts'
import type { System } from '#analysis/model/system.ts'
import type { Fuel } from '#analysis/physics/fuel-properties.ts'
import { fuelDensity, headPressurePa } from './fuel-density.ts'
import type { LookMethod, WetFinding } from './look-methods.ts'
import { handbookScheme, type SeepScheme, seepClass } from './seep-classes.ts'
import { type EarlierStage, orderReasons } from './stage-order.ts'
import { type WetStage, type WetStageName, wetStage } from './wet-stages.ts'
import { publishedReasons, type WeighedReason, worstVerdict } from './worst-verdict.ts'

/** One look at one fitting. */
export interface WetLook {
  readonly fitting: string
  /** Since the stage began (filled, opened, pump on), [s]. */
  readonly atS: number
  readonly finding: WetFinding
  /** Who looked, and how; a dry look counts only with both. */
  readonly by: string | null
  readonly how: readonly LookMethod[]
  /** The bench's own clock gave the time; otherwise somebody typed it. */
  readonly stamped: boolean
  /** Width of the spot, [m]; null when not measured. */
  readonly spreadM: number | null
  /** Since it was wiped dry, [s]; null when it was not. */
  readonly sinceWipeS: number | null
  /** Height of the fuel's surface above it, [m]; null when not measured. */
  readonly headM: number | null
  /** Why a look entered by mistake does not count; null for one that does. */
  readonly withdrawn: string | null
}

/** What was left out, each with its reason. */
export interface Omissions {
  /** By step, counted from 1. */
  readonly steps: ReadonlyMap<number, string>
  readonly stages: ReadonlyMap<string, string>
  readonly fittings: ReadonlyMap<string, string>
}

export interface WetSheet {
  readonly stage: WetStageName
  /** Sections that fuel stood in. */
  readonly sections: readonly string[]
  /** Fittings that fuel touched; those of the sections above its surface are left out. */
  readonly fittings: readonly string[]
  readonly beganNs: string
  /** Null in a stage without looks: no fuel is judged there. */
  readonly fuel: Fuel | null
  readonly temperatureK: number | null
  readonly looks: readonly WetLook[]
  /** Record of the liquid hold; needed for the stage with the pump on. */
  readonly holdRecord: string | null
  /** Verdict of that record as the archive has it; null when it was not asked. */
  readonly holdVerdict: Verdict | null
  /** Steps of the checklist that were ticked, counted from 1. */
  readonly done: readonly number[]
  readonly omitted: Omissions
  /** The last of each stage that comes before this one, as the archive has it. */
  readonly before: readonly EarlierStage[]
  readonly scheme?: SeepScheme
}

/** Result of a wet stage, sealed as a record of kind `wet`. */
export interface WetResult {
  readonly stillhold: 1
  readonly subject: string
  readonly stage: WetStageName
  readonly sections: readonly string[]
  readonly verdict: Verdict
  readonly reasons: readonly WordedReason[]
  /** End of the stage: the last look, epoch nanoseconds. */
  readonly time_ns: string
  readonly soak_s: number
  /** What fuel touched. */
  readonly fittings: readonly string[]
  /** Proven wet by this stage. */
  readonly proves: readonly string[]
  /** Fuel came out here. */
  readonly wept: readonly string[]
  readonly fuel: Fuel | null
  readonly density_kg_per_m3: number | null
  readonly hold_record: string | null
  readonly hold_verdict: Verdict | null
  /** The checklist as it was ticked. */
  readonly steps: readonly {
    readonly text: string
    readonly done: boolean
    readonly omitted: string | null
  }[]
  /** The stages before it that were relied on. */
  readonly before: readonly {
    readonly record: string
    readonly stage: WetStageName
    readonly sections: readonly string[]
    readonly verdict: Verdict
  }[]
  readonly scheme: { readonly name: string; readonly source: string; readonly classes: string }
  readonly looks: readonly {
    readonly fitting: string
    readonly after_s: number
    readonly finding: WetFinding
    readonly by: string | null
    readonly how: string
    /** The bench's clock, or typed. */
    readonly clock: 'bench' | 'typed'
    readonly class: string | null
    readonly spread_mm: number | null
    readonly head_Pa: number | null
    readonly since_wipe_s: number | null
    readonly withdrawn: string | null
  }[]
}

/** A dry look that names who looked and how. */
const isSigned = ({ by, how }: WetLook): boolean => by !== null && how.length > 0

/**
 * Judges one wet stage. Any fuel outside fails it; it passes only when every joint of its sections was dry at a signed look
 * after the whole soak, every step was done and every earlier stage passed; what is omitted needs its reason, and no reason
 * excuses a safety step.
 */
export function judgeWetStage(sheet: WetSheet, system: System): WetResult {
  const stage = wetStage(sheet.stage)!
  const scheme = sheet.scheme ?? handbookScheme
  const densityKgM3 =
    sheet.fuel === null || sheet.temperatureK === null
      ? null
      : fuelDensity(sheet.fuel, sheet.temperatureK, null).densityKgM3
  const looks = sheet.looks.filter(({ withdrawn }) => withdrawn === null)
  const wept = sheet.fittings.filter((id) => looks.some((l) => l.fitting === id && l.finding !== 'dry'))
  const dry = sheet.fittings.filter(
    (id) => !wept.includes(id) && looks.some((l) => l.fitting === id && l.atS >= stage.soakS && isSigned(l)),
  )
  const hold = stage.name === 'pump-on' ? liquidHoldReason(sheet, stage) : null
  const tanks = sheet.sections.filter((id) =>
    system.sections.some((section) => section.id === id && section.kind === 'tank'),
  )
  /** What must be in order before any dry joint counts as proof. */
  const conditions: WeighedReason[] = [
    ...(hold ? [hold] : []),
    ...orderReasons(
      sheet.stage,
      tanks.length > 0 ? tanks : sheet.sections,
      sheet.before,
      sheet.omitted.stages,
    ),
    ...stepReasons(sheet, stage),
  ]
  const reasons: WeighedReason[] = [
    ...(stage.looks ? lookReasons(sheet, stage, wept, dry, system) : []),
    ...conditions,
  ]
  const say = (code: string, message: string) => reasons.push({ weight: null, code, message })
  if (stage.looks && !stage.proves) say('leave-to-go-on', 'Dry here is permission to go on, not yet proof.')
  if (!reasons.some(({ weight }) => weight !== null))
    say(
      'all-dry',
      stage.looks
        ? `All ${dry.length} joints were dry after ${span(stage.soakS)}.`
        : 'Every step was done, or is omitted with its reason.',
    )
  const lastS = Math.max(0, ...looks.map(({ atS }) => atS))
  const inOrder = conditions.every(({ weight }) => weight === null)
  return {
    stillhold: 1,
    subject: `${sheet.stage}-${sheet.sections.join('-')}`,
    stage: sheet.stage,
    sections: sheet.sections,
    verdict: worstVerdict(reasons),
    reasons: publishedReasons(reasons),
    time_ns: String(BigInt(sheet.beganNs) + BigInt(Math.round(lastS)) * 1_000_000_000n),
    soak_s: lastS,
    fittings: sheet.fittings,
    proves: stage.proves && inOrder ? dry : [],
    wept,
    fuel: sheet.fuel,
    density_kg_per_m3: densityKgM3,
    hold_record: sheet.holdRecord,
    hold_verdict: sheet.holdVerdict,
    steps: stage.steps.map(({ text }, i) => ({
      text,
      done: sheet.done.includes(i + 1),
      omitted: sheet.omitted.steps.get(i + 1) ?? null,
    })),
    before: sheet.before.map(({ record, stage: name, sections, verdict }) => ({
      record,
      stage: name,
      sections,
      verdict,
    })),
    scheme: { name: scheme.name, source: scheme.source, classes: classWords(scheme) },
    looks: sheet.looks.map((look) => ({
      fitting: look.fitting,
      after_s: look.atS,
      finding: look.finding,
      by: look.by,
      how: look.how.join(', '),
      clock: look.stamped ? 'bench' : 'typed',
      class: classOf(look, scheme),
      spread_mm: look.spreadM === null ? null : look.spreadM * 1e3,
      head_Pa: look.headM === null || densityKgM3 === null ? null : headPressurePa(densityKgM3, look.headM),
      since_wipe_s: look.sinceWipeS,
      withdrawn: look.withdrawn,
    })),
  }
}

/** What the looks at the joints say, and which joints have none. */
function lookReasons(
  sheet: WetSheet,
  stage: WetStage,
  wept: readonly string[],
  dry: readonly string[],
  system: System,
): WeighedReason[] {
  const reasons: WeighedReason[] = []
  const say = (weight: Verdict | null, code: string, message: string) =>
    reasons.push({ weight, code, message })
  if (sheet.fittings.length === 0) say('void', 'nothing-wetted', 'No joint is named that fuel touched.')
  if (wept.length > 0)
    say('fail', 'fuel-outside', `Fuel came out at ${wept.join(', ')}: stop, drain below it, then work on it.`)
  const open = sheet.fittings.filter((id) => !wept.includes(id) && !dry.includes(id))
  const unsigned = open.filter((id) =>
    sheet.looks.some((l) => l.fitting === id && l.atS >= stage.soakS && l.withdrawn === null),
  )
  const unseen = open.filter((id) => !unsigned.includes(id))
  if (unseen.length > 0)
    say(
      'undecided',
      'not-looked-at',
      `Not yet inspected after the whole soak of ${span(stage.soakS)}: ${unseen.join(', ')}.`,
    )
  if (unsigned.length > 0)
    say(
      'undecided',
      'look-not-signed',
      `Inspected without saying who looked and how: ${unsigned.join(', ')}. Such a look does not count.`,
    )
  const missing = system.fittings
    .filter(({ id, section }) => sheet.sections.includes(section) && !sheet.fittings.includes(id))
    .map(({ id }) => id)
  const unexplained = missing.filter((id) => !sheet.omitted.fittings.has(id))
  if (unexplained.length > 0)
    say(
      'undecided',
      'fittings-left-out',
      `Joints of the same sections left out without a reason: ${unexplained.join(', ')}. Inspect them, or state why not.`,
    )
  const explained = missing.filter((id) => sheet.omitted.fittings.has(id))
  if (explained.length > 0)
    say(
      null,
      'fittings-omitted',
      `Not inspected here: ${explained.map((id) => `${id} (${sheet.omitted.fittings.get(id)})`).join(', ')}.`,
    )
  const withdrawn = sheet.looks.filter((look) => look.withdrawn !== null)
  if (withdrawn.length > 0)
    say(
      null,
      'looks-withdrawn',
      `Looks withdrawn: ${withdrawn.map((l) => `${l.fitting} ${l.finding} (${l.withdrawn})`).join(', ')}.`,
    )
  return reasons
}

/** A step not done keeps the stage open; a reason excuses it, but never a safety step. */
function stepReasons({ done, omitted }: WetSheet, stage: WetStage): WeighedReason[] {
  const numbered = stage.steps.map(({ safety }, i) => ({ n: i + 1, safety }))
  const open = numbered.filter(({ n }) => !done.includes(n))
  const list = (steps: readonly { readonly n: number }[]) => steps.map(({ n }) => n).join(', ')
  const unsafe = open.filter(({ safety }) => safety)
  const unexplained = open.filter(({ n, safety }) => !safety && !omitted.steps.has(n))
  const explained = open.filter(({ n, safety }) => !safety && omitted.steps.has(n))
  const reasons: WeighedReason[] = []
  if (unsafe.length > 0)
    reasons.push({
      weight: 'undecided',
      code: 'safety-step-open',
      message: `Safety steps not done: ${list(unsafe)}. No reason excuses them.`,
    })
  if (unexplained.length > 0)
    reasons.push({
      weight: 'undecided',
      code: 'steps-not-ticked',
      message: `Steps neither done nor omitted with a reason: ${list(unexplained)}.`,
    })
  if (explained.length > 0)
    reasons.push({
      weight: null,
      code: 'steps-omitted',
      message: `Steps omitted: ${explained.map(({ n }) => `${n} (${omitted.steps.get(n)})`).join(', ')}.`,
    })
  return reasons
}

function liquidHoldReason({ holdRecord, holdVerdict, omitted }: WetSheet, stage: WetStage): WeighedReason {
  const code = 'liquid-hold'
  const why = omitted.steps.get(stage.steps.findIndex(({ hold }) => hold) + 1)
  if (holdRecord === null && why !== undefined)
    return { code: 'liquid-hold-omitted', weight: null, message: `No liquid hold was made (${why}).` }
  if (holdRecord === null)
    return { code, weight: 'undecided', message: 'The liquid hold between pump and closed end is not named.' }
  if (holdVerdict === null)
    return { code, weight: 'undecided', message: `No hold of the archive is ${holdRecord}.` }
  return {
    code,
    weight: holdVerdict === 'pass' ? null : holdVerdict,
    message: `The liquid hold ${holdRecord} between pump and closed end: ${holdVerdict}.`,
  }
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
