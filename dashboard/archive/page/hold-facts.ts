import {
  type HoldAnalysis,
  type HoldCurves,
  type HoldResult,
  leaksOf,
  type SectionLeak,
  type Verdict,
} from '#analysis/model/hold-result.ts'
import { isoTime } from '#analysis/model/samples.ts'
import type { Allowance, Channel, HoldSpec, System } from '#analysis/model/system.ts'
import { toUnit } from '#analysis/physics/units.ts'
import { benchWords } from '#analysis/reasons/bench-words.ts'
import { type DisplayUnits, duration } from '#analysis/reasons/figures.ts'
import {
  conditionsWords,
  figure,
  intervalWords,
  pressureWords,
  stated,
  temperatureWords,
  utcMinute,
} from './figure-words.ts'

/** A hold on the page, with its pressure unit and the ink of its verdict. */
export interface PrintedHold {
  readonly result: HoldResult
  /** Null when the system file does not define it. */
  readonly hold: HoldSpec | null
  readonly unit: string
  readonly accent: string
}

export interface Bar {
  readonly section: string
  readonly value: number
  readonly low: number
  readonly high: number
  readonly allowance: number
  readonly unit: string
}

/** The leak in the unit of its allowance. */
export function leakBar(
  leak: SectionLeak,
  result: HoldResult,
  allow: Allowance | null,
  pressureUnit: string,
): Bar {
  const { allowance } = result
  if (allow?.kind === 'gas-leak' && leak.scc_per_min && allowance.scc_per_min !== undefined) {
    return { ...leak.scc_per_min, section: leak.section, allowance: allowance.scc_per_min, unit: 'scc/min' }
  }
  if (allow?.kind === 'liquid-leak' && leak.mL_per_min && allowance.mL_per_min !== undefined) {
    return { ...leak.mL_per_min, section: leak.section, allowance: allowance.mL_per_min, unit: 'mL/min' }
  }
  const shown = (pa: number): number => toUnit(pa, pressureUnit, 'pressure')
  const { value, low, high } = leak.drop_Pa
  return {
    section: leak.section,
    value: shown(value),
    low: shown(low),
    high: shown(high),
    allowance: shown(allowance.drop_Pa),
    unit: pressureUnit,
  }
}

/** The leak in words, for every published form. */
export function leakWords(leak: SectionLeak, pressureUnit: string): string {
  const { value, low, high } = leak.drop_Pa
  const shown = (pa: number): number => toUnit(pa, pressureUnit, 'pressure')
  const parts = [intervalWords({ value: shown(value), low: shown(low), high: shown(high) }, pressureUnit)]
  if (leak.scc_per_min)
    parts.push(
      `${intervalWords(leak.scc_per_min, 'scc/min')} at ${conditionsWords(leak.scc_per_min.reference)}`,
    )
  if (leak.mL_per_min) parts.push(intervalWords(leak.mL_per_min, 'mL/min'))
  return parts.join('; ')
}

export function allowanceWords(result: HoldResult, hold: HoldSpec | null, pressureUnit: string): string {
  const { allowance } = result
  const seconds = hold?.holdS ?? result.seconds
  const forms = [`${pressureWords(allowance.drop_Pa, pressureUnit, 3)} in ${duration(seconds)}`]
  if (allowance.scc_per_min !== undefined) {
    const reference = leaksOf(result).find((leak) => leak.scc_per_min)?.scc_per_min?.reference
    forms.push(
      `${stated(allowance.scc_per_min, 3)} scc/min${reference ? ` at ${conditionsWords(reference)}` : ''}`,
    )
  }
  if (allowance.mL_per_min !== undefined) forms.push(`${stated(allowance.mL_per_min, 3)} mL/min`)
  return forms.join(', the same as ')
}

export function holdFacts(
  result: HoldResult,
  hold: HoldSpec | null,
  system: System | null,
  analysis: HoldAnalysis | null,
  units: DisplayUnits,
): [string, string][] {
  const { pressure: unit } = units
  const facts: [string, string][] = []
  const sections = system?.sections.filter((section) => result.sections.includes(section.id)) ?? []
  facts.push(['name', result.hold])
  if (hold) facts.push(['test pressure', pressureWords(hold.pressurePa, unit)])
  facts.push(['allowance', allowanceWords(result, hold, unit)])
  facts.push([
    'its source',
    hold?.allowSource ?? 'not stated in the system file; the kit or airframe maker’s figure comes first',
  ])
  for (const leak of leaksOf(result)) {
    facts.push([`leak${result.sections.length > 1 ? ` ${leak.section}` : ''}, 95 %`, leakWords(leak, unit)])
  }
  if (result.raw_drop_Pa !== null) {
    const suction = (hold?.pressurePa ?? 0) < 0
    const raw = suction ? -result.raw_drop_Pa : result.raw_drop_Pa
    facts.push([suction ? 'rise as read' : 'drop as read', `${pressureWords(raw, unit, 3)}, not compensated`])
  }
  facts.push(['bench', benchWords(result)])
  facts.push(['held for', `${duration(result.seconds)}${hold ? `; ${duration(hold.holdS)} stated` : ''}`])
  for (const section of sections) {
    const spread = section.volumeToleranceM3 > 0 ? ` ± ${stated(section.volumeToleranceM3 * 1000)}` : ''
    facts.push([`${section.id}`, `${section.medium}, ${stated(section.volumeM3 * 1000)}${spread} L`])
  }
  const begun = result.stages.hold_ns
  if (begun !== null) {
    const iso = isoTime(begun)
    const source =
      result.stages.source === 'marks' ? 'stages as marked' : 'stages found from the pressure itself'
    facts.push(['hold began', `${utcMinute(iso)}; ${source}`])
  }
  const conditions = conditionWords(analysis, units)
  if (conditions) facts.push(['conditions', conditions])
  for (const meaning of analysis?.meaning ?? []) {
    const { drop_per_hour_Pa: perHourPa, equivalent_hole_m: holeM, fuel_mL_per_h: fuel } = meaning
    if (!(perHourPa > 0)) continue
    const forms = [`${figure(toUnit(perHourPa, unit, 'pressure'))} ${unit} an hour`]
    if (holeM !== null) forms.push(`a hole of ${figure(holeM * 1e6, 2)} µm`)
    if (fuel !== null && fuel > 0) {
      const drops =
        meaning.drops_per_min === null ? '' : ` (${figure(meaning.drops_per_min, 2)} drops a minute)`
      forms.push(`up to ${figure(fuel, 2)} mL of fuel an hour${drops}`)
    }
    const of = result.sections.length > 1 ? ` for ${meaning.section}` : ''
    facts.push([`what it means${of}`, `${forms.join(', ')}, assuming ${meaning.assumptions.join('; ')}`])
  }
  return facts
}

function conditionWords(analysis: HoldAnalysis | null, units: DisplayUnits): string | null {
  if (!analysis?.curves[0]) return null
  const curves = fromHoldStart(analysis.curves[0])
  const parts: string[] = []
  const range = (values: Float64Array | null): [number, number] | null => {
    const finite = values ? [...values].filter(Number.isFinite) : []
    return finite.length > 0 ? [Math.min(...finite), Math.max(...finite)] : null
  }
  const temperature = range(curves.temperatureK)
  parts.push(
    temperature
      ? temperature.map((kelvin) => temperatureWords(kelvin, units.temperature)).join(' to ')
      : 'temperature not measured',
  )
  const weather = range(curves.barometricPa)
  parts.push(
    weather
      ? `atmosphere ${figure(weather[0] / 100, 5)} to ${figure(weather[1] / 100, 5)} hPa`
      : 'atmosphere not measured',
  )
  const [start = Number.NaN] = curves.gaugePa
  if (Number.isFinite(start)) parts.push(`${pressureWords(start, units.pressure)} at the start`)
  return parts.join('; ')
}

/** The channels of a hold: those of its sections and the barometer. */
export function channelsOf(system: System, sections: readonly string[]): Channel[] {
  return system.channels.filter((channel) => channel.section === null || sections.includes(channel.section))
}

/** The curves from the start of the hold on: the stages before it (pump-up heat, settling) would dwarf it. */
export function fromHoldStart(curves: HoldCurves): HoldCurves {
  const start = curves.holdStartS ?? null
  const from = start === null ? 0 : curves.timeS.findIndex((timeS) => timeS >= start)
  if (from <= 0 || curves.timeS.length - from < 2) return curves
  return {
    ...curves,
    timeS: curves.timeS.subarray(from),
    gaugePa: curves.gaugePa.subarray(from),
    compensatedPa: curves.compensatedPa.subarray(from),
    leakLinePa: curves.leakLinePa.subarray(from),
    temperatureK: curves.temperatureK?.subarray(from) ?? null,
    barometricPa: curves.barometricPa?.subarray(from) ?? null,
  }
}

export const verdictTitles: Readonly<Record<Verdict, string>> = {
  pass: 'Pass',
  fail: 'Fail',
  undecided: 'Undecided',
  void: 'Void',
}

/** The verdict as a sentence that a person can act on. */
export function verdictSentence(result: HoldResult): string {
  const what = `${result.sections.length > 1 ? 'sections' : 'section'} ${listWords(result.sections)}`
  const begin = what.charAt(0).toUpperCase() + what.slice(1)
  const leaks = result.sections.length > 1 ? 'leak' : 'leaks'
  switch (result.verdict) {
    case 'pass':
      return `${begin} ${leaks} less than the allowance.`
    case 'fail':
      return `${begin} ${leaks} more than the allowance.`
    case 'undecided':
      return result.needs_seconds_more === null
        ? `These data cannot tell whether ${what} ${leaks} more than the allowance.`
        : `These data cannot tell yet; about ${duration(result.needs_seconds_more)} more of the same hold would.`
    case 'void':
      return `This hold proves nothing about ${what}.`
  }
}

function listWords(words: readonly string[]): string {
  return words.length < 2 ? words.join() : `${words.slice(0, -1).join(', ')} and ${words.at(-1)}`
}
