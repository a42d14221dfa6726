import type { SectionLeak } from '#analysis/model/hold-result.ts'
import { type LeakFigure, leakFigure } from './leak-figures.ts'
import type { Body, Coverage } from './system-graph.ts'

/** Leaks by body. Two gauges on one body each see their own section's share, so their leaks add up. */
export function measuredBodies(
  coverage: Coverage,
  leak: SectionLeak | readonly SectionLeak[] | null,
): { body: Body; figure: LeakFigure }[] {
  const leaks: readonly SectionLeak[] =
    leak === null ? [] : Array.isArray(leak) ? leak : [leak as SectionLeak]
  return coverage.bodies.flatMap((body) => {
    const figures = leaks.filter((l) => body.sections.includes(l.section)).map(leakFigure)
    if (figures.length === 0 || figures.some((f) => f === null)) return []
    const known = figures as LeakFigure[]
    const figure = {
      molPerS: known.reduce((sum, f) => sum + f.molPerS, 0),
      stdMolPerS: Math.hypot(...known.map((f) => f.stdMolPerS)),
    }
    return [{ body, figure }]
  })
}
