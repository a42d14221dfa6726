import { expect } from 'vitest'
import type { Faults } from '#analysis/faults/fault.ts'
import { type GaugeView, gaugeView } from '#analysis/faults/gauge-view.ts'
import type { Mark } from '#analysis/model/samples.ts'
import type { Channel, HoldSpec, Section } from '#analysis/model/system.ts'
import { phrase } from '#analysis/reasons/phrase.ts'
import { pressurisedBodies } from '#analysis/signal/pressurised-bodies.ts'
import { holdSpec, section, system, valve } from '../hunt/made-system.ts'

/** 10 psi, and 1 % of it allowed. */
export const testPa = 68_947.57
export const allowedPa = 689.4757
export const atmospherePa = 101_325

/** A hold of 600 s whose every reading is made by hand. */
export interface Made {
  readonly hz?: number
  /** Gauge pressure at a moment, [Pa]; null leaves the reading out. */
  readonly pa?: (timeS: number, quiet: number) => number | null
  readonly settleS?: number
  readonly ventS?: number
  readonly endS?: number
  readonly channel?: Partial<Channel>
  readonly section?: Partial<Section>
  readonly spec?: Partial<HoldSpec>
  readonly marks?: readonly Partial<Mark>[]
  readonly others?: readonly {
    readonly channel: Partial<Channel>
    readonly at: (timeS: number) => number | null
  }[]
}

/** Pump-up at 60 s, settle from 70 s, hold from 170 s. */
export const pumpUpS = 60
export const holdS = 170

/** What a tight section reads. */
export const quietPa = (timeS: number, ventS: number): number =>
  timeS < pumpUpS || timeS >= ventS + 2 ? 0 : testPa * Math.min(1, (timeS - pumpUpS) / 8)

/** Noise of a few pascals, the same each time. */
const noise = (i: number): number => (((i * 7919 + 104_729) % 1009) / 1009 - 0.5) * 12

/** The hold as the checks of its gauge look at it. */
export function madeView({
  hz = 1,
  pa,
  settleS = 70,
  ventS = 770,
  endS = ventS + 60,
  ...parts
}: Made = {}): GaugeView {
  const base = system(
    [section('line', parts.section), section('beyond')],
    [],
    [valve('V1', ['line', 'beyond'])],
    [
      holdSpec('hold', ['line'], ['V1'], {
        settleS: 100,
        allow: { kind: 'drop', dropPa: allowedPa },
        ...parts.spec,
      }),
    ],
    ['line'],
  )
  const [gauge] = base.channels
  const others = (parts.others ?? []).map(({ channel }, n) => ({ ...gauge, id: `other-${n}`, ...channel }))
  const of = { ...base, channels: [{ ...gauge, ...parts.channel }, ...others] }
  const times = Array.from({ length: Math.round(endS * hz) + 1 }, (_, i) => i / hz)
  const samples = (id: string, at: (timeS: number, i: number) => number | null) => {
    const kept = times.flatMap((timeS, i) => {
      const reading = at(timeS, i)
      return reading === null ? [] : [[timeS, reading] as const]
    })
    return {
      channel: id,
      timeS: Float64Array.from(kept, ([timeS]) => timeS),
      reading: Float64Array.from(kept, ([, reading]) => reading),
    }
  }
  const read = (timeS: number, i: number): number | null => {
    const quiet = quietPa(timeS, ventS) + noise(i)
    return pa ? pa(timeS, quiet) : quiet
  }
  const recording = {
    name: 'made.lp',
    startNs: '1767225600000000000',
    channels: [
      samples('p-line', read),
      ...(parts.others ?? []).map(({ at }, n) => samples(`other-${n}`, at)),
    ],
    marks: (parts.marks ?? []).map(
      (mark): Mark => ({ timeNs: '0', timeS: 0, kind: 'note', id: null, hold: null, fields: {}, ...mark }),
    ),
    rejectedLines: 0,
    missingSequence: 0,
  }
  const [spec] = of.holds
  const stages = { spec, source: 'marks' as const, pumpUpS, settleS, holdS, ventS, endS }
  const [measured] = pressurisedBodies(recording, of, spec).measured
  return gaugeView(recording, of, measured, stages, ventS - 0.5)
}

const units = { pressure: 'psi', temperature: 'degC', volume: 'L' } as const

/** The codes that are told, each with all values of its sentence. */
export const codesOf = ({ voids, blocking, cautions }: Faults): string[] =>
  [...voids, ...blocking, ...cautions].map((reason) => {
    expect(phrase(reason, units)).not.toMatch(/undefined|NaN/)
    return reason.code
  })

/** Each reason that is told, with its weight and its values. */
export const toldBy = ({ voids, blocking, cautions }: Faults): unknown[] =>
  [
    ...voids.map((reason) => ['void', reason] as const),
    ...blocking.map((reason) => ['blocks', reason] as const),
    ...cautions.map((reason) => ['caution', reason] as const),
  ].map(([weight, reason]) => {
    expect(phrase(reason, units)).not.toMatch(/undefined|NaN/)
    return [weight, reason.code, reason.values]
  })
