import type { RateMixture } from './leak-problem.ts'

/** Finding of a look; everything but dry is a trace or a sign of a leak. */
export const findings = ['dry', 'stain', 'seep', 'bubbles', 'drip'] as const
export type Finding = (typeof findings)[number]

/** Shares of findings at a tight joint, and at a leak that the look sees. Own figures. */
interface Shares {
  readonly tight: Readonly<Record<Finding, number>>
  readonly seen: Readonly<Record<Finding, number>>
}

/**
 * Under gas and soap solution a seep, bubbles and a drip are one sign of a leak in three words, with one likelihood ratio:
 * in 3 of 100 looks a tight joint shows it. A seen leak shows it too, so a stain alone means that the soap showed nothing.
 */
const underGas: Shares = {
  tight: { dry: 0.92, stain: 0.05, seep: 0.003, bubbles: 0.0255, drip: 0.0015 },
  seen: { dry: 0, stain: 0, seep: 0.1, bubbles: 0.85, drip: 0.05 },
}
/** In fuel or without pressure: old stains and spilled fluid are common. */
const atRest: Shares = {
  tight: { dry: 0.9, stain: 0.05, seep: 0.02, bubbles: 0.02, drip: 0.01 },
  seen: { dry: 0, stain: 0.4, seep: 0.4, bubbles: 0, drip: 0.2 },
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

/** Probability that a look under pressure finds a sign of a leak at a tight joint. */
export const lookFalseAlarm = 1 - underGas.tight.dry - underGas.tight.stain

/** Bubbles and drips prove pressure or fuel, even without a recorded hold. */
export function showsPressure(finding: unknown): boolean {
  return finding === 'bubbles' || finding === 'drip'
}

/** True for a sign of a leak; a seep without pressure may be spilled fluid. */
export function showsLeak(finding: unknown, underPressure: boolean): boolean {
  return showsPressure(finding) || (finding === 'seep' && underPressure)
}

/** Log likelihood of a finding: `[tight, rate class 0, …]`. An unknown finding carries no information. */
export function lookLikelihood(finding: unknown, underPressure: boolean, rates: RateMixture): number[] {
  const none = [0, ...rates.mean.map(() => 0)]
  if (!isFinding(finding)) return none
  const shares = underPressure ? underGas : atRest
  const shown = shares.seen[finding]
  const tight = shares.tight[finding]
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
