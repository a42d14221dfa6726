import type { Mark } from '#analysis/model/samples.ts'
import type { Channel } from '#analysis/model/system.ts'
import type { TimedNumbers } from './scale-column.ts'

/**
 * Of a gauge that is moved, the readings from while it was marked on the channel's section
 * (`mark,kind=place,id=CHANNEL section="…"`), each mark until the next; all readings of any other channel.
 */
export function placedReadings<N extends TimedNumbers>(
  channel: Channel,
  numbers: N,
  marks: readonly Mark[],
): N {
  const { movable } = channel
  if (movable === undefined) return numbers
  const moves = marks.filter(({ kind, id }) => kind === 'place' && id === movable.id)
  let next = 0
  let isHere = false
  const kept = Array.from(numbers.timeS, (timeS) => {
    for (; next < moves.length && moves[next].timeS <= timeS; next++)
      isHere = moves[next].fields.section === channel.section
    return isHere
  })
  const of = (column: Float64Array) => column.filter((_, i) => kept[i])
  return { ...numbers, timeS: of(numbers.timeS), values: of(numbers.values) }
}
