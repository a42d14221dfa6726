import type { Mark, Recording } from '#analysis/model/samples.ts'
import type { Fuel } from '#analysis/physics/fuel-properties.ts'
import { standardAtmospherePa } from '#analysis/physics/ideal-gas.ts'
import { density60From, volumeCorrection } from '#analysis/physics/volume-correction.ts'

/** What a simulated line full of fuel is and does. */
export interface LiquidBench {
  readonly fuel: Fuel
  readonly density15KgM3: number
  readonly volumeM3: number
  /** Air in it at no gauge pressure, [m³]. */
  readonly airM3: number
  /** Growth of its walls, [1/Pa]. */
  readonly wallPerPa: number
  readonly pumpedPa: number
  /** Leak at the pumped pressure, [m³/s]; it falls with the gauge pressure. */
  readonly leakM3PerS: number
  readonly fuelLagS: number
  /** Temperature of the surroundings over time, [K]. */
  readonly outsideK: (timeS: number) => number
  readonly thermometerStdK: number
  readonly gaugeStdPa: number
  readonly gaugeStepPa: number
  readonly rateHz: number
  readonly settleS: number
  readonly holdS: number
  /** A known volume pushed in, and when after the end of pump-up. */
  readonly stroke: { readonly atS: number; readonly volumeM3: number } | null
  readonly seed: number
}

/** Seeded chance: a fixed generator, so that a seed is a recording. */
function seededNormal(seed: number): () => number {
  let state = seed >>> 0
  const uniform = () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0
    let mixed = state ^ (state >>> 15)
    mixed = Math.imul(mixed, 0x2c1b3c6d)
    mixed ^= mixed >>> 12
    return ((mixed >>> 0) + 0.5) / 2 ** 32
  }
  return () => Math.sqrt(-2 * Math.log(uniform())) * Math.cos(2 * Math.PI * uniform())
}

const pumpUpS = 20

/**
 * Integrates mass and heat of a closed line full of fuel with some air, and reads it with imperfect sensors.
 *
 * Nothing of the fit is used: at every step the pressure is what makes fuel (density by table), air (gas law) and walls fill
 * each other exactly.
 */
export function liquidRecording(bench: LiquidBench): Recording {
  const normal = seededNormal(bench.seed)
  const density60 = density60From(bench.density15KgM3, 288.15)
  const density = (kelvin: number, gaugePa: number) => {
    const { ctl, cpl } = volumeCorrection(density60, kelvin, Math.max(0, gaugePa))
    return density60 * ctl * cpl
  }
  const startK = bench.outsideK(0)
  const wallAlpha = 7e-5
  const airMol = (standardAtmospherePa * bench.airM3) / startK
  let mass = density(startK, 0) * (bench.volumeM3 - bench.airM3)
  let fuelK = startK

  const residual = (gaugePa: number, outsideK: number) => {
    const line = bench.volumeM3 * (1 + bench.wallPerPa * gaugePa + wallAlpha * (outsideK - startK))
    return line - mass / density(fuelK, gaugePa) - (airMol * fuelK) / (gaugePa + standardAtmospherePa)
  }
  // regula falsi from the last pressure: the balance is nearly straight over one step
  const pressure = (outsideK: number, lastPa: number) => {
    let a = lastPa - 200
    let b = lastPa + 200
    let fa = residual(a, outsideK)
    let fb = residual(b, outsideK)
    for (let i = 0; i < 12 && fa !== fb && Math.abs(b - a) > 1e-7; i++) {
      const next = Math.max(-95_000, b - (fb * (b - a)) / (fb - fa))
      a = b
      fa = fb
      b = next
      fb = residual(b, outsideK)
    }
    return b
  }
  // pumping: push in just what brings it to the pressure, warmed by the compression
  const fill = (targetPa: number, outsideK: number) => {
    const line = bench.volumeM3 * (1 + bench.wallPerPa * targetPa + wallAlpha * (outsideK - startK))
    const air = (airMol * fuelK) / (targetPa + standardAtmospherePa)
    mass = density(fuelK, targetPa) * (line - air)
  }

  const endS = pumpUpS + bench.settleS + bench.holdS
  const step = 1 / bench.rateHz
  const p: number[] = []
  const t: number[] = []
  const times: number[] = []
  let gaugePa = 0
  let stroked = false
  for (let k = 0; k * step <= endS + 20; k++) {
    const timeS = k * step
    const outsideK = bench.outsideK(timeS)
    fuelK += ((outsideK - fuelK) * step) / bench.fuelLagS
    if (timeS < pumpUpS) {
      gaugePa = (bench.pumpedPa * timeS) / pumpUpS
      if (timeS + step >= pumpUpS) {
        fuelK += (1.2e-3 * fuelK * bench.pumpedPa) / (720 * 2100)
        fill(bench.pumpedPa, outsideK)
      }
    } else if (timeS < endS) {
      if (bench.stroke && !stroked && timeS >= pumpUpS + bench.stroke.atS) {
        mass += density(fuelK, gaugePa) * bench.stroke.volumeM3
        stroked = true
      }
      mass -= density(fuelK, gaugePa) * ((bench.leakM3PerS * gaugePa) / bench.pumpedPa) * step
      gaugePa = pressure(outsideK, gaugePa)
    } else {
      gaugePa = 0
    }
    const read = gaugePa + bench.gaugeStdPa * normal()
    times.push(timeS)
    p.push(bench.gaugeStepPa > 0 ? Math.round(read / bench.gaugeStepPa) * bench.gaugeStepPa : read)
    t.push(outsideK + bench.thermometerStdK * normal())
  }
  const mark = (timeS: number, kind: Mark['kind'], fields: Mark['fields']): Mark => ({
    timeNs: String(BigInt(Math.round(timeS * 1e9))),
    timeS,
    kind,
    id: null,
    hold: kind === 'stage' ? 'wet' : null,
    fields,
  })
  const marks = [
    mark(0, 'stage', { name: 'pump-up' }),
    mark(pumpUpS, 'stage', { name: 'settle' }),
    ...(bench.stroke
      ? [mark(pumpUpS + bench.stroke.atS, 'stroke', { volume_mL: bench.stroke.volumeM3 * 1e6 })]
      : []),
    mark(pumpUpS + bench.settleS, 'stage', { name: 'hold' }),
    mark(endS, 'stage', { name: 'vent' }),
  ].sort((a, b) => a.timeS - b.timeS)
  const timeS = Float64Array.from(times)
  return {
    name: `wet-${bench.seed}.lp`,
    startNs: '0',
    channels: [
      { channel: 'p', timeS, reading: Float64Array.from(p) },
      { channel: 't', timeS, reading: Float64Array.from(t) },
      { channel: 'baro', timeS, reading: new Float64Array(times.length).fill(standardAtmospherePa) },
    ],
    marks,
    rejectedLines: 0,
    missingSequence: 0,
  }
}
