import { bars, type Faults, noFaults } from '#analysis/faults/fault.ts'
import type { Proof, Reason } from '#analysis/model/hold-result.ts'
import type { HoldSpec, System } from '#analysis/model/system.ts'
import { molPerSPerScc } from '#analysis/physics/standard-flow.ts'
import { reason } from '#analysis/reasons/phrase.ts'
import { isContradicted } from './bench-proof.ts'

/** Whether a pass of this hold needs a proof: the file says so, or a gauge cock or manifold may part gauge and section. */
export function proofRequired(system: System, spec: HoldSpec, joined: readonly string[]): boolean {
  if (spec.proof !== undefined) return spec.proof === 'required'
  return system.valves.some(
    ({ kind, between }) => kind === 'gauge-cock' && between.some((id) => joined.includes(id)),
  )
}

/** A check that showed something else than it is: the gauge does not read what the file says it reads. */
export function contradictedBench(proof: Proof | null, sccReferenceK: number): Faults {
  if (proof === null || !isContradicted(proof)) return noFaults
  return bars('proof-contradicted', shown(proof, sccReferenceK))
}

/** Why a hold that would pass stays undecided for its proof; null where nothing is wrong with it. */
export function proofDoubt(
  section: string,
  proof: Proof | null,
  required: boolean,
  sccReferenceK: number,
): Reason | null {
  if (proof === null) return required ? reason('proof-missing', { section }) : null
  return proof.proven || isContradicted(proof) ? null : reason('proof-unclear', shown(proof, sccReferenceK))
}

/** Sizes of a check in the units of its syringe or bleed. */
function shown({ kind, check, section, expected, found }: Proof, sccReferenceK: number) {
  const unit = kind === 'known-leak' ? ('scc/min' as const) : ('mL' as const)
  const size = (value: number): number =>
    kind === 'known-leak' ? value / molPerSPerScc(sccReferenceK) : value * 1e6
  return {
    section,
    check,
    unit,
    expected: size(expected),
    low: found === null ? null : size(found.low),
    high: found === null ? null : size(found.high),
  }
}
