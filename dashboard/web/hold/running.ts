import { computed } from '@preact/signals'
import type { HoldSpec, Section } from '#analysis/model/system.ts'
import { isSectionPressure } from '#analysis/model/system.ts'
import type { Stage } from '#dashboard/api.ts'
import { bench, channelsOf, system } from '../live/bench.ts'

/** What stays the same from one state to the next while a stage lasts: charts are drawn, not built, when it does. */
export interface Running {
  readonly id: string
  readonly stage: Stage
  readonly stageStartedS: number
  readonly stageLengthS: number | null
  readonly allowanceDropPa: number
  readonly spec: HoldSpec | null
  readonly sections: readonly Section[]
  /** Pressure channels of its sections. */
  readonly pressures: readonly {
    readonly channel: string
    readonly section: string
    readonly absolute: boolean
  }[]
  readonly temperatures: readonly string[]
  readonly barometer: string | null
  /** Bench time of the start of the hold stage; null before it. */
  readonly holdStartS: number | null
  readonly pumpUpS: number | null
}

function stageMarkS(name: string): number | null {
  const marks = bench.value?.marks ?? []
  for (let i = marks.length - 1; i >= 0; i--) {
    if (marks[i].kind === 'stage' && new RegExp(`\\b${name}\\b`).test(marks[i].text)) return marks[i].timeS
  }
  return null
}

const holdId = computed(() => bench.value?.hold?.hold ?? null)

/** What the system file says of the running hold. */
const described = computed(() => {
  const spec = system.value?.holds.find((one) => one.id === holdId.value) ?? null
  const ids = spec?.sections ?? []
  return {
    spec,
    sections: (system.value?.sections ?? []).filter((one) => ids.includes(one.id)),
    pressures: ids.flatMap((id) =>
      channelsOf(id, isSectionPressure).map((one) => ({
        channel: one.id,
        section: id,
        absolute: one.measures === 'absolute-pressure',
      })),
    ),
    temperatures: ids.flatMap((id) => channelsOf(id, (kind) => kind === 'temperature').map((one) => one.id)),
    barometer: system.value?.channels.find((one) => one.measures === 'barometric-pressure')?.id ?? null,
  }
})

let before: Running | null = null

export const running = computed<Running | null>(() => {
  const hold = bench.value?.hold
  if (!hold) return null
  const now: Running = {
    ...described.value,
    id: hold.hold,
    stage: hold.stage,
    stageStartedS: hold.stageStartedS,
    stageLengthS: hold.stageLengthS,
    allowanceDropPa: hold.allowanceDropPa,
    holdStartS:
      hold.stage === 'hold' ? hold.stageStartedS : hold.stage === 'vent' ? stageMarkS('hold') : null,
    pumpUpS: hold.pumpUpS ?? (hold.stage === 'pump-up' ? hold.stageStartedS : stageMarkS('pump-up')),
  }
  const keys = Object.keys(now) as (keyof Running)[]
  if (before === null || keys.some((key) => before![key] !== now[key])) before = now
  return before
})

/** Gauge pressure from a reading: an absolute transducer less the atmosphere. */
export function gaugeOffsetPa(absolute: boolean, barometer: string | null): number {
  if (!absolute) return 0
  const atmosphere = barometer === null ? undefined : bench.value?.newest[barometer]?.reading
  return -(atmosphere ?? 101_325)
}
