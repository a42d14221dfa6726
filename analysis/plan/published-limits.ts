import type { HoldSpec } from '#analysis/model/system.ts'
import { standardAtmospherePa } from '#analysis/physics/ideal-gas.ts'
import { laminarScale } from '#analysis/physics/leak-flow.ts'
import { duration, type FigureWords, threeDigits } from '#analysis/reasons/figures.ts'
import type { PlanAdvice } from '#analysis/reasons/hold-cautions.ts'

const psi = 6894.757293
/** Conventional, 4 °C. */
const inchesOfWater = 249.0889

/**
 * Published limits of a gas system's loss in other trades, for orientation and never as presets: none is for an aircraft's fuel
 * system. The volume is the one that the drop is stated for, [m³]; null for that of the system under test.
 *
 * Source: [en-1949] 4.3; [uscg-fuel-guide] 15.0; [epa-method-27], its starting pressure from memory; [ac-43.13-1b] 12-59. The
 * boat rule allows no visible drop on a gauge of three times the test pressure: 0.1 psi is our own figure for such a dial
 */
export const publishedLimits = [
  {
    clause: 'EN 1949:2011+A1:2013, 4.3',
    words: 'LPG in caravans',
    testPa: 15e3,
    dropPa: 1e3,
    seconds: 300,
    volumeM3: 0.7e-3,
  },
  {
    clause: '33 CFR 183.542, laboratory procedure 15.0',
    words: 'fuel in boats, no drop on a dial',
    testPa: 3 * psi,
    dropPa: 0.1 * psi,
    seconds: 300,
    volumeM3: null,
  },
  {
    clause: 'EPA Method 27; starting pressure from memory',
    words: 'vapor of gasoline delivery tanks',
    testPa: 18 * inchesOfWater,
    dropPa: 3 * inchesOfWater,
    seconds: 300,
    volumeM3: null,
  },
  {
    clause: 'AC 43.13-1B, 12-59',
    words: 'pitot lines',
    testPa: 14.9 * inchesOfWater,
    dropPa: 2.04 * inchesOfWater,
    seconds: 60,
    volumeM3: null,
  },
] as const

/**
 * Drop that a leak at a published limit causes in this hold: its gas loss per second, scaled to this test pressure by the
 * laminar law, over the time and volume of this hold.
 *
 * @param volumeM3 of the section, [m³] > 0
 * @param pressurePa test pressure, [Pa] > 0
 * @returns [Pa]
 * *Check*: EN 1949 in 0.85 L at 10 psi for 10 min: 1000 Pa · 0.7/0.85 · 2 · 5.7358 = 9447 Pa (computed)
 */
export function limitInThisHold(
  limit: (typeof publishedLimits)[number],
  volumeM3: number,
  { pressurePa, holdS }: Pick<HoldSpec, 'pressurePa' | 'holdS'>,
): number {
  const at = (gaugePa: number): number => standardAtmospherePa + gaugePa
  const scale = laminarScale(at(limit.testPa), at(pressurePa), standardAtmospherePa)
  return limit.dropPa * ((limit.volumeM3 ?? volumeM3) / volumeM3) * (holdS / limit.seconds) * scale
}

/** Compares the allowance with the published limits, one sentence each. */
export function limitAdvice(
  spec: Pick<HoldSpec, 'pressurePa' | 'holdS'>,
  volumeM3: number,
  allowedPa: number,
  { pressure, volume }: FigureWords,
): PlanAdvice[] {
  if (spec.pressurePa <= 0 || !(allowedPa > 0)) return []
  return publishedLimits.map((limit) => {
    const drop = limitInThisHold(limit, volumeM3, spec)
    const inVolume = limit.volumeM3 === null ? '' : ` with ${volume(limit.volumeM3)}`
    const rule = `${pressure(limit.dropPa)} of ${pressure(limit.testPa)} in ${duration(limit.seconds)}${inVolume}`
    return {
      topic: 'published-limit',
      message: `For orientation only, not a preset: ${limit.words} (${rule}) would be ${drop < spec.pressurePa ? pressure(drop) : 'all of the pressure'} in this hold of ${duration(spec.holdS)}, ${threeDigits(drop / allowedPa)} times your allowance.`,
      source: limit.clause,
    }
  })
}
