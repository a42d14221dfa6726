import type { Evidence } from '#analysis/model/evidence.ts'
import type { Proof } from '#analysis/model/ledger.ts'
import type { Fitting, System } from '#analysis/model/system.ts'
import { holdCoverage } from '#analysis/model/system-graph.ts'
import { holdsInOrder, marksInOrder, type TimedHold, type TimedMark } from './evidence-order.ts'
import { fittingsBehind, jointsOpened } from './joints-opened.ts'
import { coverageInFact } from './valves-in-fact.ts'

/** Where one fitting stands. */
export interface FittingProof {
  readonly dry: Proof
  /** Null where the system has no wet stage at all. */
  readonly wet: Proof | null
  readonly lastWork: { readonly time_ns: string; readonly on: string; readonly action: string } | null
}

/** The last failing hold of a fitting, with all that may have been the leak. */
interface OpenFail {
  readonly where: string
  readonly suspects: ReadonlySet<string>
  /** Work was done on a suspect since. */
  worked: boolean
  /** A pass that followed without any work between. */
  passedOnce: string | null
}

interface Standing {
  dry: Proof
  wet: Proof
  fail: OpenFail | null
  lastWork: FittingProof['lastWork']
}

const neverHeld: Proof = {
  state: 'never-held',
  record: null,
  hold: null,
  since_ns: null,
  why: 'No hold has covered it.',
}
const neverWet: Proof = { ...neverHeld, why: 'No wet stage has covered it.' }

/**
 * Follows every fitting through holds, wet stages and work in the order of time.
 *
 * A pass proves what it covered if nothing was worked on from its pump-up on. A fail throws doubt on all that its gas
 * reached. Work makes the fitting stale, every joint opened to reach it, and every fitting that lies behind it. Where a
 * pass follows a fail of the same joints and no work lies between, something is wrong: one more pass is asked for.
 */
export function proofOfFittings(system: System, evidence: readonly Evidence[]): Map<string, FittingProof> {
  const standings = new Map<string, Standing>(
    system.fittings.map((f) => [f.id, { dry: neverHeld, wet: neverWet, fail: null, lastWork: null }]),
  )
  const marks = marksInOrder(evidence)
  const steps: { timeNs: bigint; take: () => void }[] = []
  for (const hold of holdsInOrder(evidence))
    steps.push({ timeNs: hold.startNs, take: () => takeHold(system, standings, hold, marks) })
  for (const mark of marks)
    if (mark.mark.kind === 'work')
      steps.push({ timeNs: mark.timeNs, take: () => takeWork(system, standings, mark) })
  const wetStages = evidence.filter((e) => e.kind === 'wet')
  for (const wet of wetStages)
    steps.push({
      timeNs: BigInt(wet.timeNs),
      take: () => {
        for (const id of wet.fittings) {
          const standing = standings.get(id)
          if (!standing) continue
          const state = wet.passed ? 'proven' : 'failed'
          const why = wet.passed ? `Stayed dry in ${wet.record}.` : `Wept in ${wet.record}.`
          standing.wet = { state, record: wet.record, hold: null, since_ns: wet.timeNs, why }
        }
      },
    })
  // At equal times work comes after a hold: the stricter reading.
  steps.sort((a, b) => (a.timeNs < b.timeNs ? -1 : a.timeNs > b.timeNs ? 1 : 0))
  for (const step of steps) step.take()
  return new Map(
    [...standings].map(([id, s]) => [
      id,
      { dry: s.dry, wet: wetStages.length > 0 ? s.wet : null, lastWork: s.lastWork },
    ]),
  )
}

function takeHold(
  system: System,
  standings: ReadonlyMap<string, Standing>,
  hold: TimedHold,
  marks: readonly TimedMark[],
): void {
  const { result, record, system: then } = hold.evidence
  const where = record ?? `${result.recording}, ${result.hold}`
  const spec = then.holds.find((h) => h.id === result.hold)
  if (!spec) return
  const coverage = coverageInFact(then, spec, hold, marks)
  const touched = new Set(result.verdict === 'pass' ? coverage.covered : coverage.reached)
  for (const [id, standing] of standings) {
    if (!touched.has(id)) {
      const barred = coverage.problems.find((p) => p.bars)
      if (
        result.verdict === 'pass' &&
        barred &&
        coverage.reached.includes(id) &&
        standing.dry.state === 'never-held'
      )
        standing.dry = { ...neverHeld, why: `${where} does not count: ${barred.message}` }
      continue
    }
    const changed = describedOtherwise(system, then, id)
    if (result.verdict === 'fail') {
      standing.fail = { where, suspects: touched, worked: false, passedOnce: null }
      standing.dry = proof('failed', hold, `A hold that covered it failed: ${where}.`)
    } else if (result.verdict !== 'pass') {
      if (standing.dry.state === 'never-held')
        standing.dry = { ...neverHeld, why: `Held in ${where}, but the verdict is ${result.verdict}.` }
    } else if (changed !== null) {
      standing.dry = proof('stale', hold, `${where} passed, but ${changed}.`)
    } else if (spec.pressurePa < 0 && hasPressureHold(system, id)) {
      if (standing.dry.state === 'never-held')
        standing.dry = {
          ...neverHeld,
          why: `Held under suction in ${where}; its pressure hold is still to do.`,
        }
    } else {
      takePass(standing, hold, where, touched)
    }
  }
}

function takePass(standing: Standing, hold: TimedHold, where: string, covered: ReadonlySet<string>): void {
  const { fail } = standing
  const sameJoints = fail !== null && [...fail.suspects].every((id) => covered.has(id))
  if (fail !== null && sameJoints && !fail.worked && fail.passedOnce === null) {
    fail.passedOnce = where
    standing.dry = {
      ...standing.dry,
      why: `${fail.where} failed and ${where} passed over the same joints with no work marked between: mark what was done, or hold once more.`,
    }
    return
  }
  standing.fail = null
  standing.dry = proof('proven', hold, `Covered by ${where}, which passed.`)
}

function takeWork(
  system: System,
  standings: ReadonlyMap<string, Standing>,
  { timeNs, mark }: TimedMark,
): void {
  const on = mark.id
  if (on === null) return
  const action = String(mark.fields.action ?? 'work')
  const opened = new Set(jointsOpened(system, on))
  const behind = new Set(fittingsBehind(system, on))
  for (const standing of standings.values()) if (standing.fail?.suspects.has(on)) standing.fail.worked = true
  for (const [id, standing] of standings) {
    if (id !== on && !opened.has(id) && !behind.has(id)) continue
    standing.lastWork = { time_ns: String(timeNs), on, action }
    const cause =
      id === on
        ? `worked on (${action})`
        : opened.has(id)
          ? `opened to reach ${on} (${action})`
          : `disturbed by work on ${on} (${action}), behind which it lies`
    standing.dry = staled(standing.dry, timeNs, cause)
    standing.wet = staled(standing.wet, timeNs, cause)
  }
}

function staled(before: Proof, timeNs: bigint, cause: string): Proof {
  if (before.state === 'never-held') return before
  const was =
    before.state === 'failed'
      ? `failed in ${before.record ?? 'a hold'}`
      : `proven by ${before.record ?? 'a hold'}`
  const since = before.state === 'stale' ? before.why : `It was ${was} and since then ${cause}: hold again.`
  return {
    ...before,
    state: 'stale',
    since_ns: before.state === 'stale' ? before.since_ns : String(timeNs),
    why: since,
  }
}

function proof(state: Proof['state'], hold: TimedHold, why: string): Proof {
  const { record, result } = hold.evidence
  return { state, record, hold: result.hold, since_ns: String(hold.endNs), why }
}

/** In what the fitting of the hold's own system file differs from the one of today; null for the same. */
function describedOtherwise(now: System, then: System, id: string): string | null {
  const find = (s: System): Fitting | undefined => s.fittings.find((f) => f.id === id)
  const today = find(now)
  const before = find(then)
  if (!today || !before) return null
  if (today.section !== before.section)
    return `it was in ${before.section} then and is in ${today.section} now`
  if (today.kind !== before.kind) return `it was a ${before.kind} then and is a ${today.kind} now`
  return null
}

function hasPressureHold(system: System, id: string): boolean {
  return system.holds.some((h) => h.pressurePa > 0 && holdCoverage(system, h).covered.includes(id))
}
