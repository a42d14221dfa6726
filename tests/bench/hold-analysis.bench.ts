import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { type SimulatedHold, simulateHold } from '#tests/simulator/simulate-hold.ts'
import { situations } from '#tests/simulator/situations.ts'
import type { BenchPlan } from './bench-plan.ts'

/** A hold of ten minutes at ten readings a second, of every situation; the stretch is stated in all but one of them. */
const names = [
  'steady',
  'ramp',
  'swings',
  'sun',
  'coarse-converter',
  'creep',
  'sensor-drift',
  'breathing',
] as const
const holdS = 600
const sampleHz = 10
/** What a verdict may take, and nine in ten of them, [ms] of processor time. */
const mostMs = 60
const mostOfNineMs = 120

function hold(name: string, kind: 'line' | 'tank', leak: number): SimulatedHold {
  const situation = situations.find((one) => one.name === name)
  if (situation === undefined) throw new Error(`there is no situation '${name}'`)
  const scenario = situation.scenario(11, leak, kind)
  const { procedure, bench } = scenario
  return simulateHold({ ...scenario, procedure: { ...procedure, holdS }, bench: { ...bench, sampleHz } }, 11)
}

/** Processor time of one analysis, [ms]: the quickest of three, after the code is warm. */
function processorMs({ recording, system }: SimulatedHold): number {
  let least = Number.POSITIVE_INFINITY
  for (let round = 0; round < 3; round++) {
    const before = process.cpuUsage()
    analyzeRecording(recording, system)
    const { user, system: kernel } = process.cpuUsage(before)
    least = Math.min(least, (user + kernel) / 1000)
  }
  return least
}

export const plans: readonly BenchPlan[] = [
  (quick) => {
    const leaks = quick ? [1] : [0, 1, 5]
    const holds = names
      .slice(quick ? -3 : 0)
      .flatMap((name) =>
        (['line', 'tank'] as const).flatMap((kind) => leaks.map((leak) => hold(name, kind, leak))),
      )
    for (const one of holds.slice(0, 4)) processorMs(one)
    const ms = holds.map(processorMs).sort((a, b) => a - b)
    return {
      kind: 'figures',
      name: `samples to verdict: ${holds.length} holds of 10 min at 10 Hz, of ${names.length} situations, in one process`,
      figures: [
        { name: 'processor, median', value: ms[ms.length >> 1], unit: 'ms', atMost: mostMs },
        {
          name: 'processor, nine in ten',
          value: ms[Math.floor(0.9 * ms.length)],
          unit: 'ms',
          atMost: mostOfNineMs,
        },
        { name: 'processor, longest', value: ms[ms.length - 1], unit: 'ms', atMost: null },
      ],
    }
  },
]
