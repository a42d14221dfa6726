import { type NormalMixture, prunedMixture } from '#analysis/numeric/normal-mixture.ts'
import type { LiquidRows } from './liquid-columns.ts'
import { type LiquidNode, swingK, yieldStepStroked } from './liquid-nodes.ts'
import type { LiquidBeliefs } from './liquid-prior.ts'

/** Share of the drop by which the leak law and the shape of the line's yield may be wrong, one standard deviation. */
const drawShare = 0.03
/** Share of a swing of temperature that one lag does not follow: wall, fuel and thermometer differ along the line. */
const unfollowedShare = 0.1
/**
 * Share of the pressure that air may lose in the stated time by going into solution, one standard deviation: it falls as evenly
 * as a leak does, and nothing in the hold tells them apart. Own figure.
 */
const dissolvingShare = 0.004
/**
 * Strokes tell the yield and the temperature's response its order of size. What else speaks of it is the shape of the
 * pressure alone, which heat, creep and air going into solution imitate: that counts for this share of itself.
 */
export const shapeTrust = 0.05
/** Log-weight below the best at which an answer no longer counts. */
export const negligible = 12

/** One conditional answer: normal in the leak given all that is not linear. */
export interface Part {
  readonly logWeight: number
  readonly node: LiquidNode
  /** Leak slope and its variance, [Pa/s]. */
  readonly mean: number
  readonly variance: number
}

/** Turns the parts into mixtures of drop, leak and stiffness. */
export function liquidMixtures(
  parts: readonly Part[],
  rows: LiquidRows,
  beliefs: LiquidBeliefs,
): { readonly drop: NormalMixture; readonly volume: NormalMixture; readonly paPerM3: NormalMixture } {
  const most = parts.reduce((top, part) => Math.max(top, part.logWeight), Number.NEGATIVE_INFINITY)
  const drop: NormalMixture = { weight: [], mean: [], std: [] }
  const volume: NormalMixture = { weight: [], mean: [], std: [] }
  const stiffness: NormalMixture = { weight: [], mean: [], std: [] }
  const missedK = Math.hypot(rows.unseenK, unfollowedShare * swingK(rows))
  for (const part of parts) {
    if (part.logWeight < most - negligible) continue
    const weight = Math.exp(part.logWeight - most)
    const { compliancePerPa, airShare } = part.node
    const hiddenPaPerS = (missedK * beliefs.expansionPerK) / compliancePerPa / rows.heldS
    const std = Math.hypot(
      Math.sqrt(part.variance),
      hiddenPaPerS,
      rows.unseenPa / rows.statedHoldS,
      (dissolvingShare * airShare * Math.abs(rows.testGaugePa)) / rows.statedHoldS,
      drawShare * part.mean,
    )
    const toVolume = compliancePerPa * rows.volumeM3
    drop.weight.push(weight)
    drop.mean.push(part.mean * rows.statedHoldS)
    drop.std.push(std * rows.statedHoldS)
    volume.weight.push(weight)
    volume.mean.push(part.mean * toVolume)
    volume.std.push(std * toVolume)
    stiffness.weight.push(weight)
    stiffness.mean.push(1 / toVolume)
    stiffness.std.push((0.5 * yieldStepStroked) / toVolume)
  }
  return { drop: prunedMixture(drop), volume: prunedMixture(volume), paPerM3: prunedMixture(stiffness) }
}

/** Parts whose evidence for their yield counts only in part; what the settings say of each other stays. */
export function tempered(parts: readonly Part[]): Part[] {
  const byNode = new Map<LiquidNode, Part[]>()
  for (const part of parts) {
    const own = byNode.get(part.node)
    if (own === undefined) byNode.set(part.node, [part])
    else own.push(part)
  }
  return [...byNode].flatMap(([node, own]) => {
    const top = own.reduce((most, part) => Math.max(most, part.logWeight), Number.NEGATIVE_INFINITY)
    const evidence = top + Math.log(own.reduce((sum, part) => sum + Math.exp(part.logWeight - top), 0))
    const shift = (shapeTrust - 1) * (evidence - node.logWeight)
    return own.map((part) => ({ ...part, logWeight: part.logWeight + shift }))
  })
}
