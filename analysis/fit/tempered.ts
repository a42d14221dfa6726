// How soft a volume is, how its leak flows, and whether a thermometer feels the gas or the wall show in the curve through
// small bends, which errors of the thermal model bend as well. Powers to which the data's word on each is taken; found on
// simulated holds (docs/validation.md).
export const stretchVoice = 0.4
export const lawVoice = 0.3
/** The least: a wall that goes before its thermometer looks much like gas, and each leaves another leak in a ramp. */
export const thermometerVoice = 0.05

/**
 * Weights in which the data speak of one thing with a smaller voice than of the rest.
 *
 * @param of which of the beliefs each part is of
 * @param beliefs their weights before the data
 * @param voice power to which the data's word is taken
 */
export function tempered(
  weight: Float64Array,
  of: Uint8Array,
  beliefs: readonly { readonly weight: number }[],
  voice: number,
): Float64Array {
  const share = beliefs.map(() => 0)
  for (let i = 0; i < weight.length; i++) share[of[i]] += weight[i]
  const likelihood = beliefs.map((belief, b) => (share[b] > 0 ? share[b] / belief.weight : 0))
  const most = Math.max(...likelihood)
  const heard = likelihood.map((each) => (each / most) ** voice)
  return weight.map((w, i) => (w / share[of[i]]) * beliefs[of[i]].weight * heard[of[i]])
}
