import type { RateMixture } from './leak-problem.ts'

export type Finding = 'dry' | 'stain' | 'seep' | 'bubbles' | 'drip'

const findings: readonly Finding[] = ['dry', 'stain', 'seep', 'bubbles', 'drip']

/** Findings at a tight joint: old stains, spilled fluid, bubbles from the spray. Own figures. */
const atTight: Readonly<Record<Finding, number>> = {
  dry: 0.9,
  stain: 0.05,
  seep: 0.02,
  bubbles: 0.02,
  drip: 0.01,
}
/** Findings at a visible leak, under gas and soap solution, and in fuel or without pressure. Own figures. */
const atLeakUnderGas: Readonly<Record<Finding, number>> = {
  dry: 0,
  stain: 0.05,
  seep: 0.05,
  bubbles: 0.85,
  drip: 0.05,
}
const atLeakAtRest: Readonly<Record<Finding, number>> = {
  dry: 0,
  stain: 0.4,
  seep: 0.4,
  bubbles: 0,
  drip: 0.2,
}

/** Leak that shows in soap solution with probability one half, [mol/s]: 0.02 scc/min at 0 °C. Own figure. */
const halfSeenMolPerS = 1.4871678e-8
const mostSeen = 0.95
/** Probability of seeing a leak without pressure, by old traces only. */
const seenAtRest = 0.2

/** Probability that a look finds a leak of this rate. */
export function lookDetection(molPerS: number, underPressure: boolean): number {
  return underPressure ? (mostSeen * molPerS) / (molPerS + halfSeenMolPerS) : seenAtRest
}

/** False-alarm probability of a look: any finding other than dry at a tight joint. */
export const lookFalseAlarm = 1 - atTight.dry

/** Bubbles and drips prove pressure or fuel, even without a recorded hold. */
export function showsPressure(finding: unknown): boolean {
  return finding === 'bubbles' || finding === 'drip'
}

/** Log likelihood of a finding: `[tight, rate class 0, …]`. An unknown finding carries no information. */
export function lookLikelihood(finding: unknown, underPressure: boolean, rates: RateMixture): number[] {
  const none = [0, ...rates.mean.map(() => 0)]
  if (!isFinding(finding)) return none
  const shown = (underPressure ? atLeakUnderGas : atLeakAtRest)[finding]
  const tight = atTight[finding]
  return [
    Math.log(tight),
    ...rates.mean.map((rate) => {
      const seen = lookDetection(rate, underPressure)
      return Math.log(seen * shown + (1 - seen) * tight)
    }),
  ]
}

function isFinding(finding: unknown): finding is Finding {
  return typeof finding === 'string' && findings.includes(finding as Finding)
}
