import type { Verdict, WordedReason } from '#analysis/model/hold-result.ts'
import type { System } from '#analysis/model/system.ts'
import type { Fuel } from '#analysis/physics/fuel-properties.ts'
import { fuelDensity, headPressurePa } from './fuel-density.ts'
import { handbookScheme, type SeepScheme, seepClass } from './seep-classes.ts'
import { type EarlierStage, orderReasons } from './stage-order.ts'
import { type WetStageName, wetStage } from './wet-stages.ts'
import { publishedReasons, type WeighedReason, worstVerdict } from './worst-verdict.ts'

export type WetFinding = 'dry' | 'stain' | 'seep' | 'bubbles' | 'drip'

/** One look at one fitting. */
export interface WetLook {
  readonly fitting: string
  /** Since the stage began (filled, opened, pump on), [s]. */
  readonly atS: number
  readonly finding: WetFinding
  /** Width of the spot, [m]; null when not measured. */
  readonly spreadM: number | null
  /** Since it was wiped dry, [s]; null when it was not. */
  readonly sinceWipeS: number | null
  /** Height of the fuel's surface above it, [m]; null when not measured. */
  readonly headM: number | null
}

export interface WetSheet {
  readonly stage: WetStageName
  /** Sections that fuel stood in. */
  readonly sections: readonly string[]
  /** Fittings that fuel touched; those of the sections above its surface are left out. */
  readonly fittings: readonly string[]
  readonly beganNs: string
  readonly fuel: Fuel
  readonly temperatureK: number
  readonly looks: readonly WetLook[]
  /** Record of the liquid hold; needed for the stage with the pump on. */
  readonly holdRecord: string | null
  /** Verdict of that record as the archive has it; null when it was not asked. */
  readonly holdVerdict: Verdict | null
  /** Steps of the checklist that were ticked, counted from 1. */
  readonly done: readonly number[]
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
  readonly fuel: Fuel
  readonly density_kg_per_m3: number
  readonly hold_record: string | null
  readonly hold_verdict: Verdict | null
  /** The checklist as it was ticked. */
  readonly steps: readonly { readonly text: string; readonly done: boolean }[]
  /** The stages before it that were relied on. */
  readonly before: readonly {
    readonly record: string
    readonly stage: WetStageName
    readonly verdict: Verdict
  }[]
  readonly scheme: { readonly name: string; readonly source: string; readonly classes: string }
  readonly looks: readonly {
    readonly fitting: string
    readonly after_s: number
    readonly finding: WetFinding
    readonly class: string | null
    readonly spread_mm: number | null
    readonly head_Pa: number | null
    readonly since_wipe_s: number | null
  }[]
}

/**
 * Judges one wet stage. Any fuel outside fails it; it passes only when every wetted fitting was dry at a look after the
 * whole soak, and a fitting not looked at then leaves it open.
 */
export function judgeWetStage(sheet: WetSheet, system: System): WetResult {
  const stage = wetStage(sheet.stage)!
  const scheme = sheet.scheme ?? handbookScheme
  const { densityKgM3 } = fuelDensity(sheet.fuel, sheet.temperatureK, null)
  const wept = sheet.fittings.filter((id) => sheet.looks.some((l) => l.fitting === id && l.finding !== 'dry'))
  const dry = sheet.fittings.filter(
    (id) => !wept.includes(id) && sheet.looks.some((l) => l.fitting === id && l.atS >= stage.soakS),
  )
  const reasons: WeighedReason[] = []
  const say = (weight: Verdict | null, code: string, message: string) =>
    reasons.push({ weight, code, message })
  if (sheet.fittings.length === 0) say('void', 'nothing-wetted', 'No fitting is named that fuel touched.')
  if (wept.length > 0)
    say('fail', 'fuel-outside', `Fuel came out at ${wept.join(', ')}: stop, drain below it, then work on it.`)
  const open = sheet.fittings.filter((id) => !wept.includes(id) && !dry.includes(id))
  if (open.length > 0)
    say(
      'undecided',
      'not-looked-at',
      `Not yet looked at after the whole soak of ${span(stage.soakS)}: ${open.join(', ')}.`,
    )
  const hold = stage.name === 'pump-on' ? liquidHoldReason(sheet) : null
  if (hold) reasons.push(hold)
  reasons.push(...orderReasons(sheet.stage, sheet.before))
  const steps = stage.steps.map((text, i) => ({ text, done: sheet.done.includes(i + 1) }))
  const unticked = steps.flatMap(({ done }, i) => (done ? [] : [i + 1]))
  if (unticked.length > 0)
    say(null, 'steps-not-ticked', `Steps of the checklist that nobody ticked: ${unticked.join(', ')}.`)
  const missing = missingOf(sheet, system)
  if (missing.length > 0)
    say(null, 'fittings-left-out', `Of the same sections, but not wetted here: ${missing.join(', ')}.`)
  if (!stage.proves) say(null, 'leave-to-go-on', 'Dry here is leave to go on, not yet proof.')
  if (!reasons.some(({ weight }) => weight !== null))
    say(null, 'all-dry', `All ${dry.length} fittings were dry after ${span(stage.soakS)}.`)
  const verdict = worstVerdict(reasons)
  const lastS = Math.max(0, ...sheet.looks.map(({ atS }) => atS))
  const ordered = sheet.before.every(({ verdict: was }) => was === 'pass')
  const holds = ordered && (hold === null || hold.weight === null)
  return {
    stillhold: 1,
    subject: `${sheet.stage}-${sheet.sections.join('-')}`,
    stage: sheet.stage,
    sections: sheet.sections,
    verdict,
    reasons: publishedReasons(reasons),
    time_ns: String(BigInt(sheet.beganNs) + BigInt(Math.round(lastS)) * 1_000_000_000n),
    soak_s: lastS,
    fittings: sheet.fittings,
    proves: stage.proves && holds ? dry : [],
    wept,
    fuel: sheet.fuel,
    density_kg_per_m3: densityKgM3,
    hold_record: sheet.holdRecord,
    hold_verdict: sheet.holdVerdict,
    steps,
    before: sheet.before.map(({ record, stage: name, verdict: was }) => ({
      record,
      stage: name,
      verdict: was,
    })),
    scheme: { name: scheme.name, source: scheme.source, classes: classWords(scheme) },
    looks: sheet.looks.map((look) => ({
      fitting: look.fitting,
      after_s: look.atS,
      finding: look.finding,
      class: classOf(look, scheme),
      spread_mm: look.spreadM === null ? null : look.spreadM * 1e3,
      head_Pa: look.headM === null ? null : headPressurePa(densityKgM3, look.headM),
      since_wipe_s: look.sinceWipeS,
    })),
  }
}

function liquidHoldReason({ holdRecord, holdVerdict }: WetSheet): WeighedReason {
  const code = 'liquid-hold'
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

function missingOf({ sections, fittings }: WetSheet, system: System): string[] {
  return system.fittings
    .filter(({ id, section }) => sections.includes(section) && !fittings.includes(id))
    .map(({ id }) => id)
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
