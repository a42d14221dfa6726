import type { ChannelSamples } from '#analysis/model/samples.ts'
import type { Channel } from '#analysis/model/system.ts'
import { lagOneCorrelation, mean, sampleStd } from '#analysis/numeric/moments.ts'
import type { Measured } from './flow-result.ts'

/**
 * Mean of a flow channel over a span of time.
 *
 * The scatter of correlated samples counts as if there were only n(1−φ)/(1+φ) of them; the maker's accuracy, a half
 * width, adds a/√3.
 *
 * @returns [m³/s] and the seconds that were read; null for fewer than ten samples
 * Source: [jcgm-100] 4.3.7; effective number of AR(1) samples, textbook
 */
export function channelFlow(
  samples: ChannelSamples,
  channel: Channel,
  fromS: number,
  untilS: number,
): { readonly flow: Measured; readonly seconds: number } | null {
  const taken = samples.reading.filter((_, i) => samples.timeS[i] >= fromS && samples.timeS[i] <= untilS)
  if (taken.length < 10) return null
  const correlation = Math.min(0.98, Math.max(0, lagOneCorrelation(taken) || 0))
  const effective = Math.max(1, (taken.length * (1 - correlation)) / (1 + correlation))
  const scatter = sampleStd(taken) / Math.sqrt(effective)
  const times = samples.timeS.filter((s) => s >= fromS && s <= untilS)
  return {
    flow: { value: mean(taken), std: Math.hypot(scatter, (channel.accuracySi ?? 0) / Math.sqrt(3)) },
    seconds: times[times.length - 1] - times[0],
  }
}
