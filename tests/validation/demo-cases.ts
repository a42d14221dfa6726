import { readFileSync } from 'node:fs'
import type { Estimate, HoldAnalysis, HoldCurves } from '#analysis/model/hold-result.ts'
import type { Recording } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { suctionHold } from '#tests/analysis/fit/suction-story.ts'
import { withTwin } from '#tests/analysis/fit/twin-vessel.ts'
import { type SimulatedHold, simulateHold } from '#tests/simulator/simulate-hold.ts'
import { type SectionKind, situations } from '#tests/simulator/situations.ts'
import { playLiquid } from './liquid-situations.ts'
import { type BenchPlan, playBench } from './worlds/play-bench.ts'

const folder = new URL('../../recordings/', import.meta.url)
const text = (name: string) => readFileSync(new URL(name, folder), 'utf8')

interface Expected {
  readonly system: string
  readonly recordings: readonly { readonly file: string; readonly hold: string; readonly verdict: string }[]
}

const expected = JSON.parse(text('expected.json')) as Expected
const floatplane = systemFromFile(text(expected.system), expected.system)

export const demoRecordings = expected.recordings

export function analysesOfDemo(file: string): HoldAnalysis[] {
  return analyzeRecording(readRecording(text(file), floatplane, file), floatplane, { budget: true })
}

interface Played {
  readonly recording: Recording
  readonly system: System
}

function onBench(plan: BenchPlan): Played {
  const played = playBench(plan)
  const system = systemFromFile(played.system, 'bench.yaml')
  return { system, recording: readRecording(played.recording, system, 'bench.lp') }
}

function underSuction(): Played {
  const { story } = suctionHold(2103, 3, 1.25, 3)
  return { recording: story.recording(), system: story.system }
}

function inSituation(situation: string, kind: SectionKind): SimulatedHold {
  const { scenario } = situations.find(({ name }) => name === situation)!
  return simulateHold(scenario(1, 0.5, kind), 1)
}

/** A hold that has run for three quarters of its stated time. */
function running({ recording, system }: Played): Played {
  const holdS = recording.marks.find(({ fields }) => fields.name === 'hold')!.timeS
  const untilS = holdS + 0.75 * system.holds[0].holdS
  const channels = recording.channels.map(({ channel, timeS, reading }) => {
    const count = timeS.findIndex((at) => at > untilS)
    return { channel, timeS: timeS.subarray(0, count), reading: reading.subarray(0, count) }
  })
  const marks = recording.marks.filter(({ timeS }) => timeS <= untilS)
  return { recording: { ...recording, channels, marks }, system }
}

/** Seeded holds for the parts of the analysis that no demo recording reaches. */
const simulated: Readonly<Record<string, () => Played>> = {
  'full line, swinging temperature, no stroke': () => playLiquid('swing, no stroke', 3, 0.5),
  'full line, a leak beside a ramp': () => playLiquid('ramp', 3, 1.5),
  'line under suction, warming room': underSuction,
  'tank beside a closed vessel, no barometer': () => withTwin(inSituation('no-barometer', 'tank'), 1),
  'tank that a longer hold does not decide': () =>
    onBench({ fault: 'none', seed: 40030, leak: 0, sort: 'tank' }),
  'line with a known leak that proves too little': () =>
    onBench({ fault: 'none', seed: 40002, leak: 0.4, sort: 'line', check: 'known-leak' }),
  'line whose gauge drifts': () => onBench({ fault: 'zero-drifts', seed: 40026, leak: 2, sort: 'line' }),
}

/** Looks at running holds. */
const looks: typeof simulated = {
  'look at a line, absolute gauge': () => running(inSituation('steady', 'line')),
  'look at a line, coarse gauge': () => running(inSituation('coarse-converter', 'line')),
  'look at a line that only its width keeps from a pass': () => running(inSituation('mixed', 'line')),
  'look at a tank in a swinging room': () => running(inSituation('swings', 'tank')),
  'look at a tank that creeps': () => running(inSituation('creep', 'tank')),
  'look at a full line': () => running(playLiquid('steady', 3, 0.5)),
}

export const simulatedHolds = [...Object.keys(simulated), ...Object.keys(looks)]

export function analysesOfSimulated(name: string): HoldAnalysis[] {
  const { recording, system } = (simulated[name] ?? looks[name])()
  return analyzeRecording(recording, system, { budget: true, live: name in looks })
}

const columns = ['gaugePa', 'compensatedPa', 'leakLinePa', 'temperatureK', 'barometricPa'] as const

/** Of each column of a curve its mean and its change from the first to the last value. */
function curveFigures(curves: HoldCurves) {
  const figures = columns.flatMap((column) => {
    const values = curves[column]
    if (values === null) return []
    const mean = values.reduce((sum, value) => sum + value, 0) / values.length
    return [[column, [mean, Number((values[values.length - 1] - values[0]).toFixed(6))]]]
  })
  const { section, timeS } = curves
  return { section, blocks: timeS.length, untilS: timeS[timeS.length - 1], ...Object.fromEntries(figures) }
}

/** Figures of an analysis: estimates in short, no sentences, no long series. */
export function figuresOf(analyses: readonly HoldAnalysis[]): unknown {
  const figures = analyses.map(({ result, curves, meaning }) => ({
    ...result,
    fittings: Object.fromEntries(result.fittings.map(({ id, leaking }) => [id, leaking])),
    budget: Object.fromEntries((result.budget ?? []).map(({ source, share }) => [source, share])),
    reasons: result.reasons.map(({ code, values }) => ({ code, ...values })),
    events: result.events.map(({ message: _, ...event }) => event),
    curves: curves.map(curveFigures),
    meaning: meaning.map(({ assumptions: _, ...rest }) => rest),
  }))
  return JSON.parse(JSON.stringify(figures, (_, value) => inShort(value)))
}

function inShort(value: unknown): unknown {
  const estimate = value as Estimate | null
  if (typeof estimate?.value !== 'number') return value
  const { value: middle, low, high, ...rest } = estimate
  return { ...rest, value: [middle, low, high] }
}

/** The holds whose figures kept-figures.json keeps, each analyzed when it is called. */
export const demoCases: ReadonlyMap<string, () => unknown> = new Map([
  ...demoRecordings.map(({ file }) => [file, () => figuresOf(analysesOfDemo(file))] as const),
  ...simulatedHolds.map((name) => [name, () => figuresOf(analysesOfSimulated(name))] as const),
])
