import {
  type AllowanceFigures,
  type HoldAnalysis,
  leaksOf,
  type Meaning,
  type SectionLeak,
  type Verdict,
} from '#analysis/model/hold-result.ts'
import type { System } from '#analysis/model/system.ts'
import { toUnit } from '#analysis/physics/units.ts'
import { benchWords, budgetWords } from '#analysis/reasons/bench-words.ts'
import { type DisplayUnits, duration, percentOf } from '#analysis/reasons/figures.ts'
import { conditionsWords, figure, intervalWords } from '#dashboard/archive/page/figure-words.ts'
import { drawnCurve } from './drawn-curve.ts'
import { resultInk as colors } from './ink.ts'
import { resultText } from './result-text.ts'

const verdictColor: Readonly<Record<Verdict, (text: string) => string>> = {
  pass: colors.green,
  fail: colors.red,
  undecided: colors.yellow,
  void: colors.magenta,
}

/** One hold for people: verdict, reasons, then numbers. */
export function analysisText(
  { result, curves, meaning }: HoldAnalysis,
  system: System,
  units: (sections: readonly string[]) => DisplayUnits,
  draw: boolean,
): string {
  const word = colors.bold(verdictColor[result.verdict](result.verdict.toUpperCase()))
  const lines = [`${word}  ${colors.bold(result.hold)}  ${result.recording}`]
  for (const { message } of result.reasons) lines.push(`  ${message}`)
  const { needs_seconds_more: more } = result
  if (more !== null) lines.push(`  About ${duration(more)} more of the same would decide it.`)
  const unit = units(result.sections).pressure
  const suction = (system.holds.find(({ id }) => id === result.hold)?.pressurePa ?? 0) < 0
  const change = suction ? 'rise' : 'drop'
  for (const leak of leaksOf(result)) lines.push(...leakLines(leak, result.allowance, unit, change))
  if (result.raw_drop_Pa !== null) {
    const how = `over ${duration(result.seconds)}, as read and not compensated`
    const raw = suction ? -result.raw_drop_Pa : result.raw_drop_Pa
    lines.push(`  raw ${change}     ${pressure(raw, unit)} ${how}`)
  }
  for (const one of meaning) lines.push(...meaningLines(one, meaning.length > 1, unit))
  lines.push(`  bench        ${benchWords(result)}`)
  if (result.budget !== undefined) lines.push(...budgetWords(result.budget, 13).map((line) => `  ${line}`))
  if (result.stages.source === 'pressure')
    lines.push('  No stage marks: the stages were found from the pressure itself.')
  for (const event of result.events) lines.push(`  ${event.message}`)
  const suspects = result.fittings.slice(0, 3).map((f) => `${f.id} ${percentOf(f.leaking)}`)
  if (suspects.length > 0 && result.verdict !== 'pass') lines.push(`  may leak     ${suspects.join(', ')}`)
  const holdS = holdStartS(result.stages, curves)
  if (draw && holdS !== null) {
    for (const curve of curves) {
      const drawn = drawnCurve(curve, holdS, units([curve.section]).pressure)
      if (drawn.length === 0) continue
      lines.push('', `  ${curve.section}, gauge pressure compensated for temperature and atmosphere:`)
      for (const line of drawn) lines.push(`  ${line}`)
    }
  }
  return resultText(lines)
}

function leakLines(
  { section, drop_Pa, scc_per_min: gas, mL_per_min: liquid }: SectionLeak,
  allowance: AllowanceFigures,
  unit: string,
  change: 'rise' | 'drop',
): string[] {
  const shown = (pa: number) => toUnit(pa, unit, 'pressure')
  const drop = { value: shown(drop_Pa.value), low: shown(drop_Pa.low), high: shown(drop_Pa.high) }
  const allowed = (rate: number | undefined) => (rate === undefined ? '' : `; allowed ${figure(rate)}`)
  return [
    `  leak         ${section}: 95 % interval in brackets`,
    `    ${change}       ${intervalWords(drop)} ${unit} in the stated hold; allowed ${pressure(allowance.drop_Pa, unit)}`,
    gas &&
      `    rate       ${intervalWords(gas)} scc/min (${conditionsWords(gas.reference)})${allowed(allowance.scc_per_min)}`,
    liquid && `    rate       ${intervalWords(liquid)} mL/min${allowed(allowance.mL_per_min)}`,
  ].filter((line) => line !== undefined)
}

function meaningLines(one: Meaning & { section: string }, named: boolean, unit: string): string[] {
  const parts = [`${pressure(one.drop_per_hour_Pa, unit)} an hour`]
  if (one.equivalent_hole_m !== null) parts.push(`a hole of ${figure(one.equivalent_hole_m * 1e6, 2)} µm`)
  if (one.fuel_mL_per_h !== null && one.fuel_mL_per_h > 0) {
    const drops = one.drops_per_min === null ? '' : ` (${figure(one.drops_per_min, 2)} drops a minute)`
    parts.push(`up to ${figure(one.fuel_mL_per_h, 2)} mL of fuel an hour${drops}`)
  }
  const lines = [`  it means     ${named ? `${one.section}: ` : ''}${parts.join('; ')}`]
  if (one.equivalent_hole_m !== null) lines.push(`    assumed    ${one.assumptions.join('; ')}`)
  return lines
}

function pressure(pa: number, unit: string): string {
  return `${figure(toUnit(pa, unit, 'pressure'))} ${unit}`
}

/** Start of the hold on the curves' time scale; null without a curve. */
function holdStartS(stages: HoldAnalysis['result']['stages'], curves: HoldAnalysis['curves']): number | null {
  const [first] = curves
  if (stages.hold_ns === null || first === undefined) return null
  return first.holdStartS ?? first.timeS[0] ?? null
}
