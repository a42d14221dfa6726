import { blocksPass, type Faults, noFaults } from '#analysis/faults/fault.ts'
import type { Proof, Reason, SupplyEvidence } from '#analysis/model/hold-result.ts'
import type { Recording } from '#analysis/model/samples.ts'
import type { HoldSpec, System } from '#analysis/model/system.ts'
import { z95 } from '#analysis/numeric/normal-distribution.ts'
import { molPerSPerScc } from '#analysis/physics/standard-flow.ts'
import { reason } from '#analysis/reasons/phrase.ts'
import { lineThrough } from '#analysis/signal/column-spans.ts'
import type { PressureSignal } from '#analysis/signal/pressure-signal.ts'
import { isContradicted } from './bench-proof.ts'

/** Whether a pass needs a proof: the file requires it, or a gauge cock or manifold may separate gauge and section. */
export function proofRequired(system: System, spec: HoldSpec, joined: readonly string[]): boolean {
  if (spec.proof !== undefined) return spec.proof === 'required'
  return system.valves.some(
    ({ kind, between }) => kind === 'gauge-cock' && between.some((id) => joined.includes(id)),
  )
}

/** Fault of a check that contradicts its stated size: the gauge does not measure what the file states. */
export function contradictedBench(proof: Proof | null, sccReferenceK: number): Faults {
  if (proof === null || !isContradicted(proof)) return noFaults
  return blocksPass('proof-contradicted', shown(proof, sccReferenceK))
}

/** Why the proof leaves a hold that would pass undecided; null if the proof is sufficient. */
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

/** Least duration of a look at the supply, [s]. */
const leastLookS = 50
/** Largest inflow in that look, as a share of the allowed leak. Own figure. */
const seepShare = 0.25

/**
 * Whether marks prove the supply shut: its hose off and the port plugged (`supply name="off"`) before the hold, or a look
 * before pump-up (`supply name="look"`): the section closed and without pressure, the supply on behind its shut cock. Any
 * inflow then raises the gauge.
 *
 * @param allowedPaPerS pressure fall equal to the allowance, [Pa/s]
 */
export function supplyEvidence(
  recording: Recording,
  { timeS, gaugePa }: PressureSignal,
  stages: { readonly pumpUpS: number | null; readonly holdS: number | null },
  allowedPaPerS: number,
): SupplyEvidence {
  const { pumpUpS, holdS } = stages
  const marks = recording.marks.filter(
    ({ kind, timeS: atS }) => kind === 'supply' && holdS !== null && atS <= holdS,
  )
  const afterPumping = marks.filter(({ timeS: atS }) => pumpUpS === null || atS > pumpUpS)
  if (afterPumping.at(-1)?.fields.name === 'off') return 'off'
  const look = marks.findLast(
    ({ timeS: atS, fields }) => fields.name === 'look' && pumpUpS !== null && atS < pumpUpS,
  )
  if (look === undefined || pumpUpS === null || pumpUpS - look.timeS < leastLookS) return null
  const line = lineThrough(timeS, gaugePa, look.timeS + 2, pumpUpS - 1, pumpUpS)
  return line !== null && line.perS + z95 * line.stdPerS < seepShare * allowedPaPerS ? 'looked-at' : null
}
