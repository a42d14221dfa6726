import { readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import { handbookScheme } from '#analysis/fuel-work/looks.ts'
import { wetStages } from '#analysis/fuel-work/wet-stages.ts'
import { torqueRange } from '#analysis/hunt/torque-tables.ts'
import type { Fitting, System } from '#analysis/model/system.ts'
import { allowanceAsFuel, planWaits } from '#analysis/plan/plan-advice.ts'
import { figuresIn, unitsOfSystem } from '#analysis/reasons/figures.ts'
import { holdCautions, type PlanAdvice } from '#analysis/reasons/hold-cautions.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'

const listed = readFileSync('docs/sources.md', 'utf8')
  .split('\n')
  .filter((line) => line.startsWith('| `'))
  .join('\n')

/** Designations of standards and rules as they are cited. */
const designation =
  /\d+ CFR \d+(?:\.\d+)?|TM [\d-]+\d|AC 43\.13-1B|ASTM \w+|EPA Method \d+|EN \d+|ADA\d+|FAA-H-[\d-]+\d|AL\d+|API MPMS [\d.]+\d/g

/** What in a source stands in no row of docs/sources.md, as designations; a figure of ours or of practice needs no row. */
function withoutRow(source: string | null | undefined): string[] {
  if (!source) return ['no source']
  const named = source.match(designation) ?? []
  if (named.length === 0)
    return /own figure|common practice|builders’ practice|from memory|as read|docs\//.test(source)
      ? []
      : [source]
  return named.filter((one) => {
    const [, part] = one.match(/^14 CFR (23\.\d+)$/) ?? []
    const key = one.toLowerCase().replaceAll(' ', '-')
    return ![part ?? one, key].some((name) => listed.includes(name))
  })
}

const text = readFileSync(new URL('../../../recordings/floatplane.yaml', import.meta.url), 'utf8')
const plane = systemFromFile(text, 'floatplane.yaml')
const asDrawn: System = {
  ...plane,
  sections: plane.sections.map((s) => ({ ...s, maxVacuumPa: s.maxPressurePa })),
  holds: plane.holds.map((h) => ({ ...h, pressurePa: -h.pressurePa })),
}

describe('every figure has a source, and every source a row in docs/sources.md', () => {
  test('of the fuelling checks', () => {
    for (const { text, source } of wetStages.flatMap(({ steps }) => steps))
      if (/\d|thirty/.test(text)) expect([text, withoutRow(source)]).toEqual([text, []])
    expect(withoutRow(handbookScheme.source)).toEqual([])
  })

  test('of the torque tables', () => {
    const sizes = ['-3', '-4', '-5', '-6', '-8', '-10', '-12', '-16', '-20']
    const joints = [
      { kind: 'hose-end', material: null },
      { kind: 'flare', material: 'steel' },
      { kind: 'flare', material: 'aluminium' },
    ] as const
    const ranges = sizes.flatMap((size) =>
      joints.map((joint) => torqueRange({ ...plane.fittings[0], torqueNm: null, size, ...joint } as Fitting)),
    )
    expect(ranges.filter((range) => range !== null)).toHaveLength(7 * 3 + 2 * 2)
    for (const range of ranges)
      if (range)
        expect([withoutRow(range.source), range.read]).toEqual([[], !range.source.includes('memory')])
  })

  test.each([
    ['pressure', plane],
    ['suction', asDrawn],
  ])('of the waits and cautions of every hold of the demo, under %s', (_, system) => {
    const words = figuresIn(unitsOfSystem(system))
    for (const spec of system.holds) {
      const sections = system.sections.filter(({ id }) => spec.sections.includes(id))
      const fuel = allowanceAsFuel(spec, sections[0], { drop_Pa: 100, mol_per_s: 1e-7 } as never)
      const advice: PlanAdvice[] = [
        ...planWaits(spec, sections, 100, words),
        ...holdCautions(spec, system, words.pressure),
        ...(fuel ? [fuel.advice] : []),
      ]
      expect(advice.length).toBeGreaterThan(10)
      for (const { topic, message, source } of advice) {
        // A limit of the file is the reader's own figure.
        if (topic === 'limits' || topic === 'shut-valves' || !/\d/.test(message)) continue
        expect([message, withoutRow(source)]).toEqual([message, []])
      }
    }
  })
})
