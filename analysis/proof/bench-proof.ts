import type { Estimate, Proof } from '#analysis/model/hold-result.ts'
import type { Recording } from '#analysis/model/samples.ts'
import type { Check, System } from '#analysis/model/system.ts'
import { mean } from '#analysis/numeric/moments.ts'
import { z95 } from '#analysis/numeric/normal-distribution.ts'
import { UnknownNoiseFit } from '#analysis/numeric/unknown-noise.ts'
import { gasConstant, standardAtmospherePa } from '#analysis/physics/ideal-gas.ts'
import { equalBlocks, firstIndexAt, meansOver } from '#analysis/signal/block-averages.ts'
import type { PressureSignal } from '#analysis/signal/pressure-signal.ts'

/** Conversion from a gauge change to moles, and the time limits of a check. */
export interface ProofSetting {
  readonly signal: PressureSignal
  /**
   * Moles per pascal of the section, dn/dp, as a plausible range, [mol/Pa]: a section without a stated stretch may expand.
   */
  readonly molPerPa: readonly [low: number, high: number]
  readonly temperatureK: number
  readonly atmospherePa: number
  /** Heat leaves the gas of a line within seconds, that of a tank within minutes. */
  readonly tank: boolean
  /** Start of the usable readings, [s]. */
  readonly fromS: number
  /** Last moment before the vent, [s]. */
  readonly untilS: number
}

/** Largest relative deviation of the change from the stated one. Source: 10 CFR 50 App. J, ANSI/ANS-56.8, from memory. */
const proofShare = 0.25
/** Candidate time constants of gas to wall, [s]; the readings weight them. Own figures. */
const gasTausS = { line: [0.5, 4, 12, 30], tank: [30, 70, 140, 280] } as const
/** Baseline before the opening: multiple of the open time, and its least duration, [s]. */
const beforeShare = 2
const leastBeforeS = 60
const mostBlocks = 60
const fewestBlocks = 12
/** Readings excluded around opening and shutting, [s]: a plunger moves slowly. */
const movingS = { before: 2, after: 5 }
/** Standard deviation of the time between opening and its mark, [s]. */
const handS = 0.7

/**
 * Measures a known leak or a known volume with the gauge, in the unit of the check's stated size.
 *
 * dp = −(q/(dn/dp))·(t + (γ − 1)·τ·(1 − e^(−t/τ))) after a leak q opens: expansion cools the gas, and the wall rewarms it.
 * A plunger has the same kernel: it injects p·ΔV/(R·T) moles at once.
 *
 * *Holds for* air and nitrogen, γ = 1.4. *Uncertainty*: noise of unknown color, the timing of the marks, the check's own.
 */
export function benchProof({ check, openS, shutS }: MadeCheck, setting: ProofSetting): Proof {
  const { signal, untilS } = setting
  const nothing: Proof = { ...headOf(check), found: null, proven: false }
  const endS = shutS ?? untilS
  const openForS = endS - openS
  const fromS = Math.max(setting.fromS, openS - Math.max(leastBeforeS, beforeShare * openForS))
  const from = firstIndexAt(signal.timeS, fromS)
  const to = firstIndexAt(signal.timeS, untilS)
  const usable: number[] = []
  const isMoving = (t: number): boolean =>
    [openS, endS].some((atS) => t > atS - movingS.before && t < atS + movingS.after)
  for (let i = from; i < to; i++)
    if (Number.isFinite(signal.gaugePa[i]) && !isMoving(signal.timeS[i])) usable.push(i)
  if (usable.length < 3 * fewestBlocks || openForS < 5) return nothing
  const timeS = Float64Array.from(usable, (i) => signal.timeS[i])
  const gaugePa = Float64Array.from(usable, (i) => signal.gaugePa[i])
  const absolutePa = setting.atmospherePa + levelBefore(timeS, gaugePa, openS)
  const blocks = equalBlocks(timeS, Math.min(mostBlocks, Math.floor(timeS.length / 3)))
  if (blocks.length < fewestBlocks) return nothing
  const fit = new UnknownNoiseFit(meansOver(timeS, blocks), meansOver(gaugePa, blocks))
  const [low, high] = setting.molPerPa
  const perUnit = molesPerUnit(check, setting, absolutePa) / low
  const found = gasTausS[setting.tank ? 'tank' : 'line'].flatMap((tauS) => {
    const kernel = (t: number): number =>
      check.kind === 'known-leak'
        ? leaked(t, tauS) - leaked(t - openForS, tauS)
        : pushed(t, tauS) - pushed(t - openForS, tauS)
    const column = timeS.map((t) => perUnit * kernel(t - openS))
    const one = fit.test(meansOver(column, blocks))
    return one === null ? [] : [one]
  })
  if (found.length === 0) return nothing
  const top = Math.max(...found.map((f) => f.logLikelihood))
  const weights = found.map((f) => Math.exp(f.logLikelihood - top))
  const total = weights.reduce((sum, w) => sum + w, 0)
  const rigid = found.reduce((sum, f, k) => sum + (weights[k] / total) * f.value, 0)
  const square = found.reduce(
    (sum, f, k) => sum + (weights[k] / total) * (f.std ** 2 + (f.value - rigid) ** 2),
    0,
  )
  // Within the plausible stretch, the check measures the stretch.
  const breathes = Math.min(high / low, Math.max(1, sizeOf(check) / rigid))
  const value = breathes * rigid
  const hand = check.kind === 'known-leak' ? (value * handS * Math.SQRT2) / openForS : 0
  const half = z95 * Math.hypot(breathes * Math.sqrt(square), hand, (check.tolerance / z95) * value)
  const estimate = { value, low: value - half, high: value + half }
  return { ...headOf(check), found: estimate, proven: isWithin(estimate, sizeOf(check)) }
}

/** Whether the check clearly contradicts its stated size. */
export function isContradicted({ expected, found }: Proof): boolean {
  return (
    found !== null && (found.high < (1 - proofShare) * expected || found.low > (1 + proofShare) * expected)
  )
}

function isWithin({ low, high }: Estimate, expected: number): boolean {
  return low >= (1 - proofShare) * expected && high <= (1 + proofShare) * expected
}

function sizeOf(check: Check): number {
  return check.kind === 'known-leak' ? check.molPerS : check.volumeM3
}

function headOf(check: Check): Omit<Proof, 'found' | 'proven'> {
  return {
    kind: check.kind,
    check: check.id,
    section: check.section,
    unit: check.kind === 'known-leak' ? 'mol_per_s' : 'm3',
    expected: sizeOf(check),
  }
}

/** Moles per unit of the check's size: per second for a leak, at once for a plunger. */
function molesPerUnit(
  check: Check,
  { temperatureK, atmospherePa }: ProofSetting,
  absolutePa: number,
): number {
  if (check.kind === 'known-volume') return absolutePa / (gasConstant * temperatureK)
  const atPa = check.atPa + standardAtmospherePa
  const flows = (absolutePa ** 2 - atmospherePa ** 2) / (atPa ** 2 - standardAtmospherePa ** 2)
  return -flows
}

const heat = 0.4

/** Response to a unit rate from time 0, [s]. */
function leaked(t: number, tauS: number): number {
  return t <= 0 ? 0 : t + heat * tauS * (1 - Math.exp(-t / tauS))
}

/** Response to a unit step at time 0. */
function pushed(t: number, tauS: number): number {
  return t <= 0 ? 0 : 1 + heat * Math.exp(-t / tauS)
}

/** Mean of the last half minute before the opening, [Pa]. */
function levelBefore(timeS: Float64Array, gaugePa: Float64Array, openS: number): number {
  const from = firstIndexAt(timeS, openS - 30)
  const to = Math.max(from + 1, firstIndexAt(timeS, openS))
  return mean(gaugePa.subarray(from, to))
}

/** One use of a check of the system file in a hold. */
interface MadeCheck {
  readonly check: Check
  readonly openS: number
  /** Null if it stayed open until the vent. */
  readonly shutS: number | null
}

/** The checks of these sections that were opened between two moments, in the order of time, [s]. */
export function checksMade(
  recording: Recording,
  system: System,
  sections: readonly string[],
  fromS: number,
  untilS: number,
): MadeCheck[] {
  const made: MadeCheck[] = []
  for (const { kind, id, timeS, fields } of recording.marks) {
    if (kind !== 'check' || timeS <= fromS || timeS >= untilS) continue
    const check = system.checks?.find((one) => one.id === id)
    if (check === undefined || !sections.includes(check.section)) continue
    const last = made.findIndex((one) => one.check === check && one.shutS === null)
    if (fields.open === true && last < 0) made.push({ check, openS: timeS, shutS: null })
    else if (fields.open === false && last >= 0) made[last] = { ...made[last], shutS: timeS }
  }
  return made
}
