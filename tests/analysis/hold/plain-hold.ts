import { analyzeRecording } from '#analysis/hold/analyze-recording.ts'
import type { HoldResult, SectionLeak } from '#analysis/model/hold-result.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/recording/read-system-file.ts'

const psi = 6894.757293
const atmospherePa = 101325

/** A hold as one would write it down by hand: pumped up evenly, no heat of pumping, straight temperature. */
export interface PlainHold {
  readonly volumeL: number
  readonly pressurePsi: number
  readonly pumpUpS: number
  readonly settleS: number
  readonly holdS: number
  readonly allowPsi: number
  /** Leak over the allowance. */
  readonly leak: number
  /** m of a leak that flows as (p² − p_b²)^m. */
  readonly flowExponent: number
  readonly kelvinPerHour: number
  readonly sampleHz: number
}

/** Noise of ±1 without a generator of random numbers: the fractional parts of a quadratic sequence, evenly spread. */
const scatter = (i: number): number => 2 * ((i * i * 0.618034 + i * 0.754877) % 1) - 1

/** Writes the hold as text in the contract's formats and analyzes it. */
export function plainHold(of: PlainHold): {
  result: HoldResult
  codes: string[]
  dropPsi: SectionLeak['drop_Pa']
} {
  const { pressurePsi, pumpUpS, settleS, holdS, sampleHz } = of
  const beganS = 20
  const settledS = beganS + pumpUpS
  const heldS = settledS + settleS
  const ventS = heldS + holdS
  const testPa = pressurePsi * psi + atmospherePa
  const lines = ['# stillhold recording 1']
  const ns = (timeS: number) => String(1767225600000000000n + BigInt(Math.round(timeS * 1e9)))
  const stage = (name: string, timeS: number) =>
    lines.push(`mark,kind=stage,hold=h name="${name}" ${ns(timeS)}`)
  stage('pump-up', beganS)
  stage('settle', settledS)
  stage('hold', heldS)
  stage('vent', ventS)
  const warmth = (timeS: number) => 1 + (of.kelvinPerHour / 3600 / 293.15) * timeS
  // Gas left over gas at the end of pump-up.
  let gas = 1 / warmth(settledS)
  for (let i = 0; i <= (ventS + 20) * sampleHz; i++) {
    const timeS = i / sampleHz
    let gaugePa = 0
    if (timeS >= ventS) gaugePa = pressurePsi * psi * Math.exp(-(timeS - ventS) / 2)
    else if (timeS >= settledS) {
      const pressurePa = testPa * gas * warmth(timeS)
      gaugePa = pressurePa - atmospherePa
      const driven = (pressurePa ** 2 - atmospherePa ** 2) / (testPa ** 2 - atmospherePa ** 2)
      const dropPaPerS = (of.leak * of.allowPsi * psi * driven ** of.flowExponent) / holdS
      gas -= dropPaPerS / testPa / sampleHz
    } else if (timeS >= beganS) gaugePa = (pressurePsi * psi * (timeS - beganS)) / pumpUpS
    const p = gaugePa / psi + 0.0008 * scatter(i)
    const t = 293.15 * warmth(timeS) - 273.15 + 0.015 * scatter(i + 7)
    lines.push(
      `logger p=${p.toFixed(5)},t=${t.toFixed(3)},baro=${(1013.25 + 0.03 * scatter(i + 13)).toFixed(2)} ${ns(timeS)}`,
    )
  }
  const text = `stillhold: 1
name: by hand
channels:
  - { id: p, measures: gauge-pressure, section: s, from: { measurement: logger, field: p }, unit: psi, range: 0 psi to ${2 * pressurePsi} psi }
  - { id: t, measures: temperature, section: s, from: { measurement: logger, field: t }, unit: degC }
  - { id: b, measures: barometric-pressure, from: { measurement: logger, field: baro }, unit: hPa }
sections:
  - { id: s, medium: air, volume: ${of.volumeL} L ± 5 %, max-pressure: ${1.5 * pressurePsi} psi }
holds:
  - { id: h, sections: [s], pressure: ${pressurePsi} psi, settle: ${settleS} s, hold: ${holdS} s, allow: { drop: ${of.allowPsi} psi } }
`
  const system = systemFromFile(text, 'by-hand.yaml')
  const [{ result }] = analyzeRecording(readRecording(`${lines.join('\n')}\n`, system, 'by-hand.lp'), system)
  const { value, low, high } = (result.leak as SectionLeak).drop_Pa
  return {
    result,
    codes: result.reasons.map(({ code }) => code),
    dropPsi: { value: value / psi, low: low / psi, high: high / psi },
  }
}
