import type { Evidence } from '#analysis/model/evidence.ts'
import { type Estimate, leaksOf, type SectionLeak, type Verdict } from '#analysis/model/hold-result.ts'
import type { System } from '#analysis/model/system.ts'
import { stdOf, times } from '#analysis/numeric/estimate.ts'
import { normalCdf } from '#analysis/numeric/normal-distribution.ts'
import { volumeStd, withoutCommon } from './compare.ts'
import { disturbedBy } from './effects-of-work.ts'
import { holdsInOrder, marksInOrder } from './evidence-order.ts'
import { flowRatio } from './leak-figures.ts'

/** Change of a leak from the mean of the holds since the last change. */
interface LeakStep {
  readonly changed: 'less' | 'more' | 'not-shown'
  /** Two-sided; a change is reported below 5 % over all comparisons of the section. */
  readonly p_value: number
}

/** Family-wise false-alarm probability in a section's history. */
const falseAlarms = 0.05

/**
 * Every hold of each section in the order of time, with the work between them and the significant changes.
 *
 * A hold is compared with the inverse-variance mean of those since the last change, scaled to its pressure:
 * u² = 1/Σ(1/u_i²) + u_now² + (v·change)², where each u excludes the volume's relative uncertainty v, which all share. Each
 * of n comparisons is reported below 5 %/n (Bonferroni), so that a long history has no more false changes than a short one.
 */
export function history(system: System, evidence: readonly Evidence[], only?: string) {
  const holds = holdsInOrder(evidence)
  const marks = marksInOrder(evidence).filter(({ mark }) => mark.kind === 'work' && mark.id !== null)
  return system.sections.flatMap(({ id }) => (only === undefined || only === id ? ofSection(id) : []))

  function ofSection(section: string) {
    const touches = (id: string, action: string): boolean =>
      id === section ||
      [...disturbedBy(system, id, action).keys()].some(
        (f) => system.fittings.find((each) => each.id === f)?.section === section,
      )
    const own = holds.flatMap(({ startNs, spec, evidence: held }) => {
      const { result } = held
      const leak = leaksOf(result).find((l) => l.section === section) ?? null
      return leak !== null || result.sections.includes(section) ? [{ startNs, spec, held, leak }] : []
    })
    const significance =
      falseAlarms / Math.max(1, own.filter(({ held, leak }) => usable(held.result.verdict, leak)).length - 1)
    let since: Seen[] = []
    return own.map(({ startNs, spec, held, leak }, i) => {
      const { result, record } = held
      const beforeNs = i === 0 ? 0n : own[i - 1].startNs
      const work = marks
        .filter(
          ({ timeNs, mark }) =>
            timeNs > beforeNs && timeNs <= startNs && touches(mark.id!, String(mark.fields.action)),
        )
        .map(({ timeNs, mark }) => ({
          time_ns: String(timeNs),
          on: mark.id!,
          action: String(mark.fields.action),
        }))
      let change: LeakStep | null = null
      if (leak !== null && usable(result.verdict, leak)) {
        const pressurePa = spec?.pressurePa ?? 0
        const now = { leak, pressurePa, volumeStd: volumeStd(held.system, result, section) }
        const alike = since.filter((s) => unitOf(s.leak) === unitOf(leak))
        const p = alike.length > 0 ? changeOf(alike, now) : null
        if (p !== null) change = { changed: p.p < significance ? p.way : 'not-shown', p_value: p.p }
        since = change !== null && change.changed !== 'not-shown' ? [now] : [...since, now]
      }
      const { allowance, hold, verdict } = result
      return {
        section,
        /** Start of pump-up, epoch nanoseconds. */
        time_ns: String(startNs),
        ...{ record, hold, verdict, leak, allowance },
        /** Work on the section since the previous hold. */
        work,
        /** Null if nothing is comparable. */
        change,
      }
    })
  }
}

/** One hold in the history of a section. */
export type HistoryHold = Readonly<ReturnType<typeof history>[number]>

interface Seen {
  readonly leak: SectionLeak
  readonly pressurePa: number
  readonly volumeStd: number
}

function usable(verdict: Verdict, leak: SectionLeak | null): boolean {
  return verdict !== 'void' && leak !== null && (leak.mol_per_s ?? leak.mL_per_min) !== undefined
}

function unitOf(leak: SectionLeak): 'mol_per_s' | 'mL_per_min' {
  return leak.mol_per_s ? 'mol_per_s' : 'mL_per_min'
}

function changeOf(
  before: readonly Seen[],
  now: Seen,
): { readonly p: number; readonly way: 'less' | 'more' } | null {
  const figure = ({ leak, pressurePa, volumeStd }: Seen): Estimate =>
    withoutCommon(times(leak[unitOf(now.leak)]!, flowRatio(now.pressurePa, pressurePa)), volumeStd)
  const after = figure(now)
  let weights = 0
  let sum = 0
  for (const each of before) {
    const its = figure(each)
    const weight = stdOf(its) ** -2
    weights += weight
    sum += weight * its.value
  }
  const change = after.value - sum / weights
  const std = Math.hypot(1 / Math.sqrt(weights), stdOf(after), now.volumeStd * change)
  if (!(std > 0) || !Number.isFinite(std)) return null
  return { p: 2 * normalCdf(-Math.abs(change) / std), way: change < 0 ? 'less' : 'more' }
}
