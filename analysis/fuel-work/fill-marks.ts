import type { Mark } from '#analysis/model/samples.ts'
import { parseQuantity } from '#analysis/physics/quantity.ts'
import type { StatedVolume } from './close-the-sum.ts'
import type { Attitude, Direction } from './level-result.ts'

/** One fill mark: what was poured in (or drawn off) just before it, and how the aircraft stood. */
export interface Fill {
  readonly timeS: number
  /** Poured in > 0, drawn off < 0; zero for a mark that only begins. */
  readonly volumeM3: number
  readonly halfWidthM3: number
  /** Null when the mark states no tolerance: two percent is then assumed. */
  readonly toleranceStated: boolean
  readonly direction: Direction
  readonly attitude: Attitude | null
  /** The tank stood at this when the mark was made; null for a mark that begins nothing. */
  readonly start: 'unusable' | 'dry' | null
  /** Everything poured in since the start, known otherwise. */
  readonly total: StatedVolume | null
  /** Brim-full, to the filler. */
  readonly full: boolean
}

export interface FillReading {
  readonly fills: readonly Fill[]
  readonly faults: readonly string[]
}

/** Half width assumed for a jug whose tolerance is not stated: own figure. */
const assumedJugShare = 0.02

/**
 * Reads the fill marks of one tank.
 *
 * @param tank section or channel id; marks without an id count, marks of another id do not
 */
export function readFills(marks: readonly Mark[], tanks: readonly string[]): FillReading {
  const fills: Fill[] = []
  const faults: string[] = []
  for (const mark of marks) {
    if (mark.kind !== 'fill' || (mark.id !== null && !tanks.includes(mark.id))) continue
    const fill = readFill(mark)
    if (typeof fill === 'string') faults.push(`fill mark at ${Math.round(mark.timeS)} s: ${fill}`)
    else fills.push(fill)
  }
  return { fills: fills.sort((a, b) => a.timeS - b.timeS), faults }
}

function readFill(mark: Mark): Fill | string {
  const { volume, direction = 'up', attitude, start, total, full } = mark.fields
  if (direction !== 'up' && direction !== 'down') return `direction "${direction}" is neither up nor down`
  if (attitude !== undefined && attitude !== 'level' && attitude !== 'ground')
    return `attitude "${attitude}" is neither level nor ground`
  if (start !== undefined && start !== 'unusable' && start !== 'dry')
    return `start "${start}" is neither unusable nor dry`
  if (volume === undefined && start === undefined && total === undefined)
    return 'no volume; write it with its tolerance, such as "5 L ± 0.5 %"'
  const poured = volume === undefined ? { valueM3: 0, halfWidthM3: 0, stated: true } : volumeOf(volume)
  if (typeof poured === 'string') return poured
  if (poured.valueM3 < 0) return 'a volume drawn off is written with direction "down", not with a minus'
  const known = total === undefined ? null : volumeOf(total)
  if (typeof known === 'string') return known
  return {
    timeS: mark.timeS,
    volumeM3: direction === 'down' ? -poured.valueM3 : poured.valueM3,
    halfWidthM3: poured.halfWidthM3,
    toleranceStated: poured.stated,
    direction,
    attitude: attitude ?? null,
    start: start ?? null,
    total: known,
    full: full === true,
  }
}

function volumeOf(text: unknown): (StatedVolume & { readonly stated: boolean }) | string {
  if (typeof text !== 'string') return `a volume is text with its unit, such as "5 L ± 0.5 %", not ${text}`
  const read = parseQuantity(text, 'volume')
  if ('fault' in read) return read.fault
  const stated = read.tolerance !== null
  return { valueM3: read.value, halfWidthM3: read.tolerance ?? assumedJugShare * read.value, stated }
}
