import type { ChannelScale } from '#analysis/model/system.ts'
import { platinumK, thermistorK } from './thermometers.ts'

/**
 * What a transducer's raw number (volts, milliamperes, ohms, counts) says in the channel's SI unit.
 *
 * @param scale how the file says to read it
 * @param raw the logger's number, in the unit that the scale was written for
 * @param rail supply measured beside it, in the unit of `raw`; only a ratiometric scale needs it
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
