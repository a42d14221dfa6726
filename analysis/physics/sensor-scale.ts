import type { ChannelScale } from '#analysis/model/system.ts'

/**
 * Converts a transducer's raw number (volts, milliamperes, ohms, counts) to the channel's SI unit.
 *
 * @param scale conversion from the system file
 * @param raw the logger's number, in the unit of the scale
 * @param rail supply measured with it, in the unit of `raw`; only a ratiometric scale needs it
 * @returns SI value; NaN where the number cannot be a reading (a shorted thermistor, no rail)
 */
export function scaledReading(scale: ChannelScale, raw: number, rail = Number.NaN): number {
  switch (scale.kind) {
    case 'linear':
      return scale.offsetSi + scale.slopeSi * raw
    case 'ratiometric': {
      const ratio = rail > 0 ? raw / rail : Number.NaN
      const share = (ratio - scale.lowRatio) / (scale.highRatio - scale.lowRatio)
      return scale.lowSi + share * (scale.highSi - scale.lowSi)
    }
    case 'ntc':
      return thermistorK(raw, scale.ohmsAt25C, scale.betaK)
    case 'pt':
      return platinumK(raw, scale.ohmsAt0C)
  }
}

const PT_A = 3.9083e-3
const PT_B = -5.775e-7
const PT_C = -4.183e-12

/**
 * Temperature of a thermistor by the beta law: 1/T = 1/298.15 K + ln(R/R₂₅)/β.
 *
 * @param ohms resistance, [Ω], > 0
 * @param ohmsAt25C resistance at 25 °C, [Ω], > 0
 * @param betaK β, [K], > 0
 * @returns [K]; NaN for an impossible resistance (0 or less: a short, or an open input read as negative)
 *
 * Holds for: a few tens of kelvin about 25 °C, to some tenths of a kelvin
 * Source: common practice; the law is the definition of β
 * Check: R = R₂₅ is 298.15 K (exact)
 */
export function thermistorK(ohms: number, ohmsAt25C: number, betaK: number): number {
  return ohms > 0 ? 1 / (1 / 298.15 + Math.log(ohms / ohmsAt25C) / betaK) : Number.NaN
}

/**
 * Resistance of an industrial platinum thermometer: R₀(1 + At + Bt²), plus R₀·C(t − 100 °C)t³ below 0 °C.
 *
 * @param temperatureK [K], −200 °C to 850 °C
 * @param ohmsAt0C R₀, [Ω]
 * Source: [iec-60751]
 * Check: R₀ 100 Ω: 138.51 Ω at 100 °C, 80.31 Ω at −50 °C
 */
export function platinumOhms(temperatureK: number, ohmsAt0C: number): number {
  const t = temperatureK - 273.15
  const cold = t < 0 ? PT_C * (t - 100) * t * t * t : 0
  return ohmsAt0C * (1 + PT_A * t + PT_B * t * t + cold)
}

/**
 * Temperature of an industrial platinum thermometer: the root of the quadratic, corrected below 0 °C by Newton steps.
 *
 * @param ohms resistance, [Ω]
 * @param ohmsAt0C R₀, [Ω], 100 or 1000
 * @returns [K]; NaN outside −200 °C to 850 °C, the range of a platinum thermometer
 * Source: [iec-60751]
 */
export function platinumK(ohms: number, ohmsAt0C: number): number {
  const ratio = ohms / ohmsAt0C
  const root = PT_A * PT_A - 4 * PT_B * (1 - ratio)
  if (!(root >= 0)) return Number.NaN
  let t = (-PT_A + Math.sqrt(root)) / (2 * PT_B)
  if (t < 0) {
    for (let i = 0; i < 6; i++) {
      const slope = PT_A + 2 * PT_B * t + PT_C * t * t * (4 * t - 300)
      t -= (platinumOhms(t + 273.15, 1) - ratio) / slope
    }
  }
  return t >= -200.01 && t <= 850.01 ? t + 273.15 : Number.NaN
}
