import type { Evidence } from '#analysis/model/evidence.ts'
import { leaksOf } from '#analysis/model/hold-result.ts'
import type { Fitting, HoldSpec, System } from '#analysis/model/system.ts'
import { holdCoverage } from '#analysis/model/system-graph.ts'
import { provenWords } from '#analysis/reasons/bench-words.ts'
import { figuresIn, unitsOfSystem } from '#analysis/reasons/figures.ts'
import { disturbedBy } from './effects-of-work.ts'
import {
  coverageInFact,
  holdsInOrder,
  marksInOrder,
  type TimedHold,
  type TimedMark,
} from './evidence-order.ts'
import { allowanceMolPerS, allowanceOf, flowRatio } from './leak-figures.ts'
import { findings } from './look-likelihood.ts'

/** By the rules of docs/ledger.md. proven: a pass covered it and nothing has contradicted it since; stale: worked on since. */
export type ProofState = 'proven' | 'stale' | 'failed' | 'never-held'

/** One kind of proof of one fitting. */
export interface Proof {
  readonly state: ProofState
  /** Record that decides the state: the pass, or the fail; the lost proof when stale; null when never held. */
  readonly record: string | null
  /** Hold of that record. */
  readonly hold: string | null
  /** Start of the state, epoch nanoseconds; null when never held. */
  readonly since_ns: string | null
  /** One sentence. */
  readonly why: string
}

/** A hold that passed or failed, with the scope of its proof. */
type DecidedHold = Readonly<NonNullable<ReturnType<typeof decidedHold>>>

/** A failed hold, or a finding at one joint, in force until it is explained. */
interface Objection {
  readonly why: string
  readonly record: string | null
  readonly hold: string | null
  readonly startNs: bigint
  readonly endNs: bigint
  readonly suspects: ReadonlySet<string>
  /** Fittings that a hold must cover to count as a repetition. */
  readonly covered: readonly string[]
  /** Pressure and allowance that a clearing pass must reach; null for a finding, which has neither. */
  readonly failed: { readonly pressurePa: number; readonly allowanceMolPerS: number | null } | null
  /** An old stain, which the next pass clears without work. */
  readonly weak: boolean
}

interface Work {
  readonly timeNs: bigint
  readonly on: string
  readonly action: string
  readonly byLogger: boolean
  /** Disturbed fittings, and how. */
  readonly disturbed: ReadonlyMap<string, string>
}

const neverHeld: Proof = {
  state: 'never-held',
  record: null,
  hold: null,
  since_ns: null,
  why: 'No hold has covered it.',
}

/**
 * State of proof of every fitting, by the rules of docs/ledger.md. Each rule is a condition on the whole evidence, so its
 * input order does not matter, and one more pass or one less objection never removes a proof.
 */
export function proofOfFittings(system: System, evidence: readonly Evidence[]) {
  const marks = marksInOrder(evidence)
  const decided = holdsInOrder(evidence).flatMap((hold) => decidedHold(hold, marks) ?? [])
  const passes = decided.filter((t) => t.hold.evidence.result.verdict === 'pass' && !t.hold.evidence.doubt)
  const objections = [
    ...decided.filter((t) => t.hold.evidence.result.verdict === 'fail').map(failedHold),
    ...marks.flatMap((m) => adverseLook(m) ?? []),
    ...adverseWetStages(evidence),
  ].sort((a, b) => (a.endNs < b.endNs ? -1 : a.endNs > b.endNs ? 1 : 0))
  /** Work on a valve disturbs every fitting of the sections on its sides, work on a section every fitting in it. */
  const work = marks.flatMap(({ timeNs, mark: { kind, id, from, fields } }): Work[] => {
    if (kind !== 'work' || id === null) return []
    const action = String(fields.action ?? 'work')
    const disturbed = disturbedBy(system, id, action)
    return [{ timeNs, on: id, action, byLogger: from === 'logger', disturbed }]
  })
  // Work marked by a logger makes a proof stale; it does not explain a leak that disappeared.
  const explained = work.filter(({ byLogger }) => !byLogger)
  const required = requiredPressures(system)
  const wetStages = evidence.filter((e) => e.kind === 'wet')
  return new Map(
    system.fittings.map((fitting) => {
      const { id } = fitting
      const mine = work.filter((w) => w.disturbed.has(id))
      const against = objections.filter((o) => o.suspects.has(id))
      const open = against.findLast((o) => !isCleared(o, id, passes, explained))
      const standings = decided.flatMap((t): Standing[] => {
        const alone = standingBy(system, fitting, t, required.get(id))
        return alone ? [[t.hold, alone]] : []
      })
      const lastWork = mine.at(-1)
      return [
        id,
        {
          dry: open ? objected(open, id, mine, passes) : byHolds(standings, id, mine),
          /** Null if the system has no wet stage. */
          wet: wetStages.length > 0 ? wetProof(id, evidence, against, mine) : null,
          lastWork: lastWork
            ? { time_ns: String(lastWork.timeNs), on: lastWork.on, action: lastWork.action }
            : null,
        },
      ] as const
    }),
  )
}

function decidedHold(hold: TimedHold, marks: readonly TimedMark[]) {
  const { spec } = hold
  const { result } = hold.evidence
  if (!spec) return null
  const leaks = leaksOf(result)
  const measured = leaks.reduce((sum, leak) => sum + (leak.mol_per_s?.high ?? Number.NaN), 0)
  const allowed = allowanceMolPerS(result.allowance)
  const bounds = [leaks.length > 0 ? measured : Number.NaN, allowed ?? Number.NaN].filter((b) => b > 0)
  return {
    hold,
    spec,
    coverage: coverageInFact(spec, hold, marks),
    /** Largest leak that passes the hold, [mol/s] at its own pressure; null if unknown. */
    boundMolPerS: bounds.length > 0 ? Math.min(...bounds) : null,
  }
}

function failedHold({ hold, spec, coverage }: DecidedHold): Objection {
  const { result, record } = hold.evidence
  return {
    why: `A hold that covered it failed: ${hold.where}.`,
    record,
    hold: result.hold,
    startNs: hold.startNs,
    endNs: hold.endNs,
    suspects: new Set(coverage.reached),
    covered: coverage.covered.length > 0 ? coverage.covered : coverage.reached,
    failed: { pressurePa: spec.pressurePa, allowanceMolPerS: allowanceMolPerS(result.allowance) },
    weak: false,
  }
}

function adverseLook({ timeNs, mark, record }: TimedMark): Objection | null {
  const found = findings.find((word) => word === mark.fields.finding) ?? 'dry'
  if (mark.kind !== 'look' || mark.id === null || found === 'dry') return null
  return findingAt(mark.id, timeNs, record, `A look found ${found} at it`, found === 'stain')
}

function adverseWetStages(evidence: readonly Evidence[]): Objection[] {
  return evidence.flatMap((e) =>
    e.kind !== 'wet' || e.passed
      ? []
      : e.fittings.map((id) => findingAt(id, BigInt(e.timeNs), e.record, 'Fuel came out at it', false)),
  )
}

function findingAt(
  id: string,
  timeNs: bigint,
  record: string | null,
  what: string,
  weak: boolean,
): Objection {
  const why = `${what}${record === null ? '' : ` (${record})`}.`
  const joint = { suspects: new Set([id]), covered: [id] }
  return { why, record, hold: null, startNs: timeNs, endNs: timeNs, ...joint, failed: null, weak }
}

/** Required gauge pressure of each fitting: the highest of the holds that cover it, else the deepest suction, [Pa]. */
export function requiredPressures(system: System): ReadonlyMap<string, number> {
  const required = new Map<string, number>()
  for (const hold of system.holds)
    for (const id of holdCoverage(system, hold).covered) {
      const known = required.get(id)
      const more =
        known === undefined ||
        (known < 0 ? hold.pressurePa < known || hold.pressurePa > 0 : hold.pressurePa > known)
      if (more) required.set(id, hold.pressurePa)
    }
  return required
}

/** Relative agreement of nominal pressures in files with different units: 10 psi is 0.69 bar. Own figure. */
const samePressure = 0.95

/** True if a hold's pressure has the required sign and at least the required magnitude. */
export function reachesPressure(gaugePa: number, askedPa: number): boolean {
  return Math.sign(gaugePa) === Math.sign(askedPa) && Math.abs(gaugePa) >= samePressure * Math.abs(askedPa)
}

/** State of a fitting from one hold alone; null without a statement, as for a fail, which is an objection. */
function standingBy(
  system: System,
  now: Fitting,
  decided: DecidedHold,
  required: number | undefined,
): Proof | null {
  const { hold, spec, coverage } = decided
  const { where } = hold
  const { result, system: then } = hold.evidence
  const not = (why: string): Proof => ({ ...neverHeld, why })
  if (!coverage.reached.includes(now.id) || result.verdict === 'fail') return null
  if (hold.evidence.doubt) return not(`${where} does not count: ${hold.evidence.doubt}.`)
  if (result.verdict !== 'pass') return not(`Held in ${where}, but the verdict is ${result.verdict}.`)
  if (!coverage.covered.includes(now.id)) {
    const barred = coverage.problems.find((p) => p.isBlocking)
    return barred ? not(`${where} does not count: ${barred.message}`) : null
  }
  const changed = describedOtherwise(then, now)
  if (changed !== null) return proof('stale', decided, `${where} passed, but ${changed}.`)
  if (required !== undefined && !reachesPressure(spec.pressurePa, required)) {
    const shown = figuresIn(unitsOfSystem(system, spec.sections)).pressure
    return required > 0 && spec.pressurePa < 0
      ? not(`Held under suction in ${where}; its pressure hold is still missing.`)
      : not(`Held at ${shown(spec.pressurePa)} in ${where}; it must be held at ${shown(required)}.`)
  }
  const today = system.holds.find((h) => h.id === spec.id)
  if (today && allowedRate(system, today) < 0.99 * allowedRate(then, spec))
    return proof('stale', decided, `${where} passed, but ${spec.id} allows less today than it did then.`)
  return proof(
    'proven',
    decided,
    `Covered by ${where}, which passed; its bench was ${provenWords(decided.hold.evidence.result.proof)}.`,
  )
}

function allowedRate(system: System, hold: HoldSpec): number {
  const { allow, holdS } = hold
  return 'dropPa' in allow ? allow.dropPa / holdS : allowanceOf(system, hold)
}

/**
 * An objection is cleared at a joint by a later pass over it at the same pressure or more and with no larger allowance, if
 * work on a suspect explains the leak, or if everything in question passed twice without work.
 */
function isCleared(
  objection: Objection,
  id: string,
  passes: readonly DecidedHold[],
  work: readonly Work[],
): boolean {
  const able = passes.filter((p) => p.hold.startNs >= objection.endNs && isAsStrict(p, objection))
  if (!able.some((p) => p.coverage.covered.includes(id))) return false
  if (objection.weak || isWorkedOn(objection, work)) return true
  const whole = able.filter(
    ({ coverage }) =>
      [...objection.suspects].every((s) => coverage.reached.includes(s)) &&
      objection.covered.every((s) => coverage.covered.includes(s)),
  )
  return whole.length >= 2
}

function isAsStrict({ spec, boundMolPerS }: DecidedHold, { failed }: Objection): boolean {
  if (failed === null) return true
  if (!reachesPressure(spec.pressurePa, failed.pressurePa)) return false
  if (failed.allowanceMolPerS === null) return true
  if (boundMolPerS === null) return false
  return boundMolPerS * flowRatio(failed.pressurePa, spec.pressurePa) <= 1.01 * failed.allowanceMolPerS
}

function isWorkedOn({ suspects, endNs }: Objection, work: readonly Work[]): boolean {
  return work.some((w) => w.timeNs >= endNs && [...w.disturbed.keys()].some((id) => suspects.has(id)))
}

/** State of a joint under an objection in force: failed, or stale if worked on since. */
function objected(
  objection: Objection,
  id: string,
  mine: readonly Work[],
  passes: readonly DecidedHold[],
): Proof {
  const { record, hold, endNs, why } = objection
  const failed: Proof = { state: 'failed', record, hold, since_ns: String(endNs), why }
  const stale = staleSince(failed, id, mine, endNs, `${why} Since then it was`)
  if (stale) return stale
  const passed = passes.filter((p) => p.hold.startNs >= endNs && p.coverage.covered.includes(id)).at(-1)
  const but = passed ? ` ${passed.hold.where} passed since then, ${unexplained(passed, objection)}` : ''
  return { ...failed, why: `${why}${but}` }
}

function unexplained(pass: DecidedHold, objection: Objection): string {
  if (!isAsStrict(pass, objection))
    return 'at a lower pressure or with a larger allowance, which does not clear it: hold again as in the failed hold.'
  const all = objection.covered.every((id) => pass.coverage.covered.includes(id))
  return all
    ? 'with no work marked between: mark what was done, or hold once more.'
    : 'but covered only a part: find the leak and work on it, or hold everything that failed again, twice.'
}

type Standing = readonly [hold: TimedHold, proof: Proof]

/** The last pass that proves it, unless it was worked on since; else the state from the last hold over it. */
function byHolds(standings: readonly Standing[], id: string, mine: readonly Work[]): Proof {
  const proven = standings.findLast(([, { state }]) => state === 'proven')
  if (!proven) return standings.at(-1)?.[1] ?? neverHeld
  const [{ startNs, where }, proof] = proven
  const begun = `It was proven by ${where} and since then`
  return staleSince(proof, id, mine, startNs, begun) ?? proof
}

/** The state after the first work on the fitting since that time; null without work. */
function staleSince(
  known: Proof,
  id: string,
  mine: readonly Work[],
  fromNs: bigint,
  begun: string,
  again = 'hold again',
): Proof | null {
  const since = mine.find((w) => w.timeNs >= fromNs)
  if (!since) return null
  const why = `${begun} ${since.disturbed.get(id)}: ${again}.`
  return { ...known, state: 'stale', since_ns: String(since.timeNs), why }
}

function proof(state: Proof['state'], { hold }: DecidedHold, why: string): Proof {
  const { record, result } = hold.evidence
  return { state, record, hold: result.hold, since_ns: String(hold.endNs), why }
}

function wetProof(
  id: string,
  evidence: readonly Evidence[],
  against: readonly Objection[],
  mine: readonly Work[],
): Proof {
  const dryIn = evidence
    .flatMap((e) => (e.kind === 'wet' && e.passed && e.fittings.includes(id) ? [e] : []))
    .sort((a, b) => (BigInt(a.timeNs) < BigInt(b.timeNs) ? -1 : 1))
    .at(-1)
  const dryNs = dryIn ? BigInt(dryIn.timeNs) : null
  const found = against.filter((o) => o.failed === null && (dryNs === null || o.endNs >= dryNs)).at(-1)
  const stage = found ?? dryIn
  if (!stage) return { ...neverHeld, why: 'No wet stage has covered it.' }
  const atNs = found ? found.endNs : dryNs!
  const why = found ? found.why : `Stayed dry in ${stage.record}.`
  const state = found ? 'failed' : 'proven'
  const known: Proof = { record: stage.record, hold: null, since_ns: String(atNs), state, why }
  return staleSince(known, id, mine, atNs, `${why} Since then it was`, 'look again') ?? known
}

/** Difference between the fitting in the hold's own system file and today's; null if none. */
function describedOtherwise(then: System, today: Fitting): string | null {
  const before = then.fittings.find((f) => f.id === today.id)
  if (!before) return null
  if (today.section !== before.section)
    return `it was in ${before.section} then and is in ${today.section} now`
  if (today.kind !== before.kind) return `it was a ${before.kind} then and is a ${today.kind} now`
  return null
}
