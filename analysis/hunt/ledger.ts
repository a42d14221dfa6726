import type { Evidence } from '#analysis/model/evidence.ts'
import { groupBy } from '#analysis/model/group-by.ts'
import type { FittingKind, System } from '#analysis/model/system.ts'
import { systemProblems } from '#analysis/model/system-graph.ts'
import { unitsOfSystem } from '#analysis/reasons/figures.ts'
import { phrase } from '#analysis/reasons/phrase.ts'
import { closingHolds } from './closing-holds.ts'
import { isKnownId } from './effects-of-work.ts'
import { holdsInOrder, marksInOrder, overlappingHolds } from './evidence-order.ts'
import { type Proof, type ProofState, proofOfFittings } from './proof-of-fittings.ts'
import { rigCaution, rigStanding } from './rig.ts'

export interface LedgerFitting {
  readonly id: string
  readonly section: string
  readonly name: string
  readonly kind: FittingKind
  /** Part of the test rig: tracked like the others, but not part of the aircraft, so neither counted nor open. */
  readonly rig?: true
  /** The dry proof: gas holds and liquid holds. */
  readonly proof: Proof
  /** The wet proof: soaked with fuel and inspected; null if no wet stage was ever recorded. */
  readonly wet: Proof | null
  /** Last work on it or on a joint opened with it. */
  readonly last_work: { readonly time_ns: string; readonly on: string; readonly action: string } | null
}

/** A plug or cap installed for a hold and not yet marked as removed. */
export interface PlugIn {
  readonly id: string
  readonly since_ns: string
  readonly record: string | null
}

/** State of proof of every fitting, the open items, and the holds that close them soonest. */
export function ledger(system: System, evidence: readonly Evidence[]) {
  const proofs = proofOfFittings(system, evidence)
  const rigs = new Set(system.sections.filter((s) => s.kind === 'rig').map((s) => s.id))
  const all = system.fittings.map(({ id, section, name, kind }): LedgerFitting => {
    const { dry, wet, lastWork } = proofs.get(id)!
    const ofRig = rigs.has(section) ? { rig: true as const } : {}
    return { id, section, name, kind, ...ofRig, proof: dry, wet, last_work: lastWork }
  })
  const fittings = all.filter((f) => !f.rig)
  const counts: Record<ProofState, number> = { proven: 0, stale: 0, failed: 0, 'never-held': 0 }
  for (const f of fittings) counts[f.proof.state]++
  const unproven = fittings.filter((f) => f.proof.state !== 'proven').map((f) => f.id)
  const plugs = plugsIn(evidence)
  const ready = { plugs: new Set(plugs.map((p) => p.id)), rigs: new Set<string>(), places: new Set<string>() }
  const { holds, exact, uncoverable } = closingHolds(system, unproven, ready)
  const errors = workOnUnknowns(system, evidence)
  const complete = fittings.length > 0 && unproven.length === 0 && plugs.length === 0 && errors.length === 0
  return {
    stillhold: 1 as const,
    system: system.name,
    /** True when every fitting is proven and every plug is out. */
    complete,
    /** One sentence: the state of the whole. */
    message: inOneSentence(counts, plugs.length, holds.length, uncoverable.length, errors.length),
    counts,
    fittings: all,
    /** Missing steps to complete proof, a sentence each. */
    open: [...errors, ...whatIsOpen(fittings, plugs, uncoverable)],
    /** Invalid evidence: work marked on an id that is not in the system. */
    errors,
    /** Holds that close it in the least time, and whether that minimum is certain. */
    holds_to_do: holds.map(({ isolation: { hold, sections, shut, seconds }, proves }) => {
      return { hold, sections, shut, proves, minutes: seconds / 60 }
    }),
    holds_to_do_exact: exact,
    /** Fittings that no possible hold covers, with the reason. */
    uncoverable,
    plugs_in: plugs,
    cautions: [
      ...overlappingHolds(evidence),
      ...rigCautions(evidence),
      ...doubtful(evidence),
      ...systemProblems(system).map((p) => p.message),
    ],
  }
}

/** Result of `ledger`: the state of proof of one system. */
export type Ledger = Readonly<ReturnType<typeof ledger>>
/** A hold still to be made. */
export type LedgerHold = Ledger['holds_to_do'][number]

/** Work marked on an id that is neither in today's system nor in that of any hold: its effect is unknown. */
function workOnUnknowns(system: System, evidence: readonly Evidence[]): string[] {
  const systems = [system, ...evidence.flatMap((e) => (e.kind === 'hold' ? [e.system] : []))]
  const errors = marksInOrder(evidence).flatMap(({ mark, record }) => {
    if (mark.kind !== 'work' || (mark.id !== null && systems.some((s) => isKnownId(s, mark.id!)))) return []
    const where = record === null ? '' : ` in ${record}`
    return [
      `Work${where} is marked on ${mark.id ?? 'nothing'}, which the system file does not name: correct the mark, or add it to the file.`,
    ]
  })
  return [...new Set(errors)]
}

/** Plugs and caps marked in and not yet marked out. */
function plugsIn(evidence: readonly Evidence[]): PlugIn[] {
  const state = new Map<string, PlugIn | null>()
  for (const { timeNs, mark, record } of marksInOrder(evidence)) {
    if (mark.kind !== 'plug' || mark.id === null) continue
    if (mark.fields.state === 'out' || mark.fields.in === false) state.set(mark.id, null)
    else if (!state.get(mark.id)) state.set(mark.id, { id: mark.id, since_ns: String(timeNs), record })
  }
  return [...state.values()].filter((p) => p !== null)
}

function rigCautions(evidence: readonly Evidence[]): string[] {
  const cautions = holdsInOrder(evidence).flatMap(({ evidence: held, spec, startNs }) => {
    if (held.result.verdict !== 'pass' || !spec || spec.rig === null) return []
    const caution = rigCaution(rigStanding(evidence, spec.rig, startNs))
    return caution
      ? [`${held.record ?? held.result.hold}: ${phrase(caution, unitsOfSystem(held.system))}`]
      : []
  })
  return [...new Set(cautions)]
}

/** Holds that do not count, and those that a person accepted. */
function doubtful(evidence: readonly Evidence[]): string[] {
  const corrected = evidence.flatMap((e) =>
    e.kind === 'hold' && e.correctedBy
      ? [
          `${e.record}: a mark was corrected after sealing (${e.correctedBy.join(', ')}); re-analyzed, it is ${e.result.verdict}.`,
        ]
      : [],
  )
  const alike = new Map<string, { readonly why: string; readonly records: string[] }>()
  for (const e of evidence) {
    const why = e.kind === 'hold' ? (e.doubt ?? e.accepted) : null
    if (e.kind !== 'hold' || !why) continue
    // Two imports differ only in their file name.
    const key = `${!e.doubt} ${why.replace(/ \([^)]*\)/, '')}`
    const known = alike.get(key) ?? { why, records: [] }
    known.records.push(e.record ?? e.result.hold)
    alike.set(key, known)
  }
  const counted = [...alike].map(([key, { why, records }]) => {
    const counts = key.startsWith('true')
    const many = records.length > 1
    const said = many ? key.slice(key.indexOf(' ') + 1).replace(/^its /, 'their ') : why
    return counts
      ? `${records.join(', ')} count${many ? '' : 's'} although ${said}.`
      : `${records.join(', ')} ${many ? 'do' : 'does'} not count: ${said}. A person can accept ${many ? 'each' : 'it'}: stillhold archive accept.`
  })
  return [...corrected, ...counted]
}

function whatIsOpen(
  fittings: readonly LedgerFitting[],
  plugs: readonly PlugIn[],
  uncoverable: readonly { readonly id: string; readonly why: string }[],
): string[] {
  const lines: string[] = []
  const failed = groupBy(
    fittings.filter((f) => f.proof.state === 'failed'),
    (f) => f.proof.why,
  )
  for (const [why, group] of failed)
    lines.push(
      `${names(group)}: ${why}${why.includes(': ') && why.includes('passed') ? '' : ' Find the leak, work on it and hold again.'}`,
    )
  for (const f of fittings.filter((x) => x.proof.state === 'stale')) lines.push(`${f.id}: ${f.proof.why}`)
  const never = groupBy(
    fittings.filter((f) => f.proof.state === 'never-held'),
    (f) => `${f.section}\n${f.proof.why}`,
  )
  for (const [key, group] of never) {
    const [section, why] = key.split('\n')
    lines.push(
      `${names(group)} in ${section} ${group.length === 1 ? 'is' : 'are'} not proven: ${lowerFirst(why)}`,
    )
  }
  for (const f of fittings.filter((x) => x.wet?.state === 'failed')) lines.push(`${f.id}: ${f.wet?.why}`)
  for (const { id, why } of uncoverable) lines.push(`${id} cannot be covered: ${lowerFirst(why)}`)
  for (const p of plugs) lines.push(`Plug ${p.id} is still in: take it out and mark it out.`)
  return lines
}

function names(group: readonly LedgerFitting[]): string {
  return group.map((f) => f.id).join(', ')
}

function lowerFirst(text: string): string {
  return text.replace(/^No /, 'no ').replace(/^Held /, 'held ')
}

function inOneSentence(
  counts: Readonly<Record<ProofState, number>>,
  plugs: number,
  holds: number,
  uncoverable: number,
  errors: number,
): string {
  const total = Object.values(counts).reduce((sum, n) => sum + n, 0)
  if (total === 0) return 'The system file names no fitting of the aircraft, so there is nothing to prove.'
  const plug = plugs === 0 ? '' : `, ${plugs} plug${plugs === 1 ? '' : 's'} still in`
  const unknown = errors === 0 ? '' : `, ${errors} work mark${errors === 1 ? '' : 's'} on unknown ids`
  if (counts.proven === total)
    return `All ${total} fittings are proven${plug}${unknown}${plug + unknown === '' ? ' and every plug is out' : ''}.`
  const parts = [
    counts.failed > 0 ? `${counts.failed} failed` : '',
    counts.stale > 0 ? `${counts.stale} stale` : '',
    counts['never-held'] > 0 ? `${counts['never-held']} never held` : '',
  ].filter((p) => p !== '')
  const would = `${holds} hold${holds === 1 ? '' : 's'} would close`
  const close =
    holds === 0
      ? 'no possible hold closes it'
      : uncoverable > 0
        ? `${would} all but ${uncoverable}`
        : `${would} it`
  return `${counts.proven} of ${total} fittings are proven, ${parts.join(', ')}${plug}${unknown}; ${close}.`
}
