import { execFileSync } from 'node:child_process'
import { fileURLToPath } from 'node:url'
import { hunt } from '#analysis/hunt/hunt.ts'
import type { Evidence } from '#analysis/model/evidence.ts'
import type { System } from '#analysis/model/system.ts'
import {
  fitting,
  held,
  holdSpec,
  leak,
  marked,
  section,
  system,
  valve,
} from '../analysis/hunt/made-system.ts'
import type { BenchPlan } from './bench-plan.ts'

/** What the hunt of 150 fittings may take, [ms] of processor time, and how often that of 30. */
const mostMs = 500
const mostTimes = 10
/** Share of the suspects in a cold analysis, [%]. */
const mostShare = 25
/** Cold processes started for that share. */
const starts = 5

/** Sections in a tree, each with five fittings; a hold of all that fails, two dry looks, and a hold of the first half. */
function evidenceOf(sections: number): { plane: System; evidence: Evidence[] } {
  const ids = Array.from({ length: sections }, (_, i) => `s${i}`)
  const half = ids.slice(0, sections >> 1)
  const plane = system(
    ids.map((id) => section(id)),
    Array.from({ length: 5 * sections }, (_, i) => fitting(`F${i}`, ids[i % sections])),
    ids.slice(1).map((id, i) => valve(`V${i}`, [ids[i >> 1], id])),
    [holdSpec('whole', ids, []), holdSpec('half', half, [])],
  )
  const dry = ['F3', 'F4'].map((id, i) => marked('look', id, 10 + i, { finding: 'dry' }))
  const whole = held(plane, 'whole', 0, 'fail', [leak('s0', 5e-7, 2e-8)])
  return { plane, evidence: [whole, ...dry, held(plane, 'half', 40, 'fail', [leak('s0', 5e-7, 2e-8)])] }
}

function hunted(sections: number): () => unknown {
  const { plane, evidence } = evidenceOf(sections)
  return () => hunt(plane, evidence)
}

/** Processor time of the quickest of three, after the code is warm, [ms]. */
function processorMs(run: () => unknown): number {
  run()
  let least = Number.POSITIVE_INFINITY
  for (let round = 0; round < 3; round++) {
    const before = process.cpuUsage()
    run()
    const { user, system: kernel } = process.cpuUsage(before)
    least = Math.min(least, (user + kernel) / 1000)
  }
  return least
}

/** Shares of the suspects in the processor time of cold analyses, [%], in ascending order. */
function coldShares(): number[] {
  const path = (of: string): string => fileURLToPath(new URL(of, import.meta.url))
  const script = ['--import', 'tsx', path('./cold-suspects.ts')]
  const demo = ['lines-leak.lp', 'floatplane.yaml'].map((name) => path(`../../recordings/${name}`))
  const shares = Array.from({ length: starts }, () => {
    const told = execFileSync(process.execPath, [...script, ...demo], { encoding: 'utf8' })
    const { holdMs, suspectsMs } = JSON.parse(told) as { holdMs: number; suspectsMs: number }
    return (100 * suspectsMs) / (holdMs + suspectsMs)
  })
  return shares.sort((a, b) => a - b)
}

export const plans: readonly BenchPlan[] = [
  () => ({
    kind: 'race',
    name: 'hunt of 150 fittings in 30 sections',
    run: hunted(30),
    rivals: [{ name: 'of 30 in 6', run: hunted(6), goal: 1 / mostTimes }],
  }),
  () => {
    const shares = coldShares()
    return {
      kind: 'figures',
      name: 'hunt: processor time',
      figures: [
        { name: '150 fittings in 30 sections', value: processorMs(hunted(30)), unit: 'ms', atMost: mostMs },
        { name: 'suspects of a cold analysis', value: shares[starts >> 1], unit: '%', atMost: mostShare },
      ],
    }
  },
]
