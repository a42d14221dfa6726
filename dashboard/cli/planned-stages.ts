import type { HoldSpec } from '#analysis/model/system.ts'
import { parseQuantity } from '#analysis/physics/quantity.ts'
import type { StageName } from './typed-mark.ts'

/** A planned stage and its time: nanoseconds after the first sample. */
export interface PlannedStage {
  readonly name: StageName
  readonly afterNs: bigint
}

const order = ['pump-up', 'settle', 'hold', 'vent'] as const
const defaultS: Readonly<Record<string, number>> = { vent: 30 }

/**
 * Reads `pump-up=30s,settle=2min,hold=10min,vent=30s`: the length of each stage. Settle and hold default to the
 * system file's hold, vent to 30 s; an omitted pump-up has no length.
 *
 * @throws Error with one plain sentence
 */
export function readPlannedStages(text: string, spec: HoldSpec | null): readonly PlannedStage[] {
  const lengths = new Map<string, number>()
  for (const part of text.split(',').map((each) => each.trim())) {
    const [name = '', length, ...more] = part.split('=').map((each) => each.trim())
    if (!order.some((each) => each === name) || length === undefined || more.length > 0)
      throw new Error(`--mark-stages ${part}: write stage=length of ${order.join(', ')}, such as settle=2min`)
    const seconds = parseQuantity(length, 'time')
    if ('fault' in seconds) throw new Error(`--mark-stages ${name}: ${seconds.fault}`)
    if (!(seconds.value > 0)) throw new Error(`--mark-stages ${name}: must last longer than nothing`)
    if (lengths.has(name)) throw new Error(`--mark-stages: ${name} is given twice`)
    lengths.set(name, seconds.value)
  }
  if (spec !== null) {
    if (!lengths.has('settle')) lengths.set('settle', spec.settleS)
    if (!lengths.has('hold')) lengths.set('hold', spec.holdS)
  }
  if (!lengths.has('hold'))
    throw new Error(
      '--mark-stages: the length of the hold is missing; add hold=10min, or --system and --hold',
    )
  const planned: PlannedStage[] = []
  let afterS = 0
  for (const name of order) {
    const seconds = lengths.get(name) ?? defaultS[name]
    if (seconds === undefined) continue
    planned.push({ name, afterNs: BigInt(Math.round(afterS * 1e9)) })
    afterS += seconds
  }
  planned.push({ name: 'end', afterNs: BigInt(Math.round(afterS * 1e9)) })
  return planned
}
