import type { Random } from './random.ts'

/** A pressure transducer with its converter. */
export interface TransducerSpec {
  readonly kind: 'gauge' | 'absolute'
  readonly lowPa: number
  readonly highPa: number
  /** Bits of the converter over the whole span. */
  readonly bits: number
  /** Standard deviation of the white noise, [Pa]. */
  readonly whitePa: number
  /** Correlated noise: standard deviation, [Pa], and correlation time, [s]. */
  readonly flickerPa: number
  readonly flickerTauS: number
  /** Random walk of the zero, [Pa/√s]. */
  readonly walkPaPerSqrtS: number
  readonly driftPaPerS: number
  readonly offsetPa: number
  readonly gain: number
}

export interface ThermometerSpec {
  /** Location: the wall, or the gas inside. */
  readonly touches: 'wall' | 'gas'
  /** Its own time constant, [s]. */
  readonly lagS: number
  readonly whiteK: number
  readonly resolutionK: number
  readonly offsetK: number
  /** Share of a change that it shows, 1 = all of it. */
  readonly share: number
}

export interface BarometerSpec {
  readonly whitePa: number
  readonly resolutionPa: number
  readonly offsetPa: number
}

/** An instrument reads the true value at a time; calls come in time order. */
export type Instrument = (trueSi: number, timeS: number) => number

function quantized(value: number, step: number): number {
  return Math.round(value / step) * step
}

/** `trueSi` is the pressure at the sensing element: gauge or absolute, [Pa]. */
export function transducer(spec: TransducerSpec, random: Random): Instrument {
  const stepPa = (spec.highPa - spec.lowPa) / (2 ** spec.bits - 1)
  let lastS = 0
  let walkPa = 0
  let flicker = random.normal()
  return (truePa, timeS) => {
    const dtS = Math.max(0, timeS - lastS)
    lastS = timeS
    if (spec.walkPaPerSqrtS > 0) walkPa += spec.walkPaPerSqrtS * Math.sqrt(dtS) * random.normal()
    if (spec.flickerPa > 0) {
      const keep = Math.exp(-dtS / spec.flickerTauS)
      flicker = keep * flicker + Math.sqrt(1 - keep * keep) * random.normal()
    }
    const feltPa =
      truePa * spec.gain +
      spec.offsetPa +
      spec.driftPaPerS * timeS +
      walkPa +
      spec.flickerPa * flicker +
      spec.whitePa * random.normal()
    const counts = Math.round((feltPa - spec.lowPa) / stepPa)
    return spec.lowPa + stepPa * Math.min(Math.max(counts, 0), 2 ** spec.bits - 1)
  }
}

/** `trueSi` is the temperature at its location, [K]. */
export function thermometer(spec: ThermometerSpec, random: Random): Instrument {
  let lastS = 0
  let shownK: number | null = null
  let startK = 0
  let beforeK = 0
  return (trueK, timeS) => {
    if (shownK === null) {
      shownK = trueK
      startK = trueK
    } else {
      const dtS = timeS - lastS
      // Exact for an input that is linear between two samples.
      const keep = Math.exp(-dtS / spec.lagS)
      const slope = dtS > 0 ? (trueK - beforeK) / dtS : 0
      shownK = trueK - slope * spec.lagS + (shownK - beforeK + slope * spec.lagS) * keep
    }
    lastS = timeS
    beforeK = trueK
    const swungK = startK + spec.share * (shownK - startK)
    return (
      quantized(swungK + spec.offsetK + spec.whiteK * random.normal() - 273.15, spec.resolutionK) + 273.15
    )
  }
}

export function barometer(spec: BarometerSpec, random: Random): Instrument {
  return (truePa) => quantized(truePa + spec.offsetPa + spec.whitePa * random.normal(), spec.resolutionPa)
}
