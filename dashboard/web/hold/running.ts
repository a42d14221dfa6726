import { computed } from '@preact/signals'
import { type HoldSpec, isSectionPressure, type Section } from '#analysis/model/system.ts'
import type { Stage } from '#dashboard/api.ts'
import { bench, marks, system } from '../live/bench.ts'

/** A hold and the channels of its sections, from the system file. */
export interface Described {
  readonly spec: HoldSpec | null
  readonly sections: readonly Section[]
  readonly pressures: readonly {
    readonly channel: string
    readonly section: string
    readonly absolute: boolean
  }[]
  readonly temperatures: readonly string[]
  readonly barometer: string | null
}

/** Constant during a stage: charts are rebuilt only when it changes, and redrawn otherwise. */
export interface Running extends Described {
  readonly id: string
  readonly stage: Stage
  readonly stageStartedS: number
  readonly stageLengthS: number | null
  readonly allowanceDropPa: number
  /** Bench time of the start of the hold stage; null before it. */
  readonly holdStartS: number | null
  readonly pumpUpS: number | null
}

const stageMarkS = (name: string): number | null =>
  marks.value.findLast(({ kind, text }) => kind === 'stage' && new RegExp(`\\b${name}\\b`).test(text))
    ?.timeS ?? null

/** Describes a hold by its id; null describes every section. */
export function describedIn(id: string | null): Described {
  const { holds = [], sections = [], channels = [] } = system.value ?? {}
  const spec = holds.find((one) => one.id === id) ?? null
  const ids = spec?.sections ?? (id === null ? sections.map((one) => one.id) : [])
  const own = ids.flatMap((section) => channels.filter((one) => one.section === section))
  return {
    spec,
    sections: sections.filter((one) => ids.includes(one.id)),
    pressures: own
      .filter(({ measures }) => isSectionPressure(measures))
      .map(({ id: channel, section, measures }) => ({
        channel,
        section: section ?? channel,
        absolute: measures === 'absolute-pressure',
      })),
    temperatures: own.filter(({ measures }) => measures === 'temperature').map((one) => one.id),
    barometer: channels.find((one) => one.measures === 'barometric-pressure')?.id ?? null,
  }
}

/** The running hold. */
const described = computed(() => describedIn(bench.value?.hold?.hold ?? ''))

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

/** Start of a chart that shows the hold from its pump-up, [s]. */
export const fromPumpUp = ({ pumpUpS }: Running, nowS: number): number =>
  Math.max(0, (pumpUpS ?? nowS - 60) - 5)

/** Offset from a reading to gauge pressure: minus the atmosphere for an absolute transducer. */
export function gaugeOffsetPa(absolute: boolean, barometer: string | null): number {
  if (!absolute) return 0
  const atmosphere = barometer === null ? undefined : bench.value?.newest[barometer]?.reading
  return -(atmosphere ?? 101_325)
}
