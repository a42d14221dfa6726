import type { SectionLeak } from '#analysis/model/hold-result.ts'
import type { Body, Coverage } from '#analysis/model/system-graph.ts'
import { type LeakFigure, leakFigure } from './leak-figures.ts'

/**
 * Leaks by body. Gauges of sections that are one volume each measure the whole of its loss, with the same air and the same
 * temperature: their mean counts, and is no surer than one of them.
 */
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
    const mean = (of: (f: LeakFigure) => number): number =>
      known.reduce((sum, f) => sum + of(f), 0) / known.length
    const figure = { molPerS: mean((f) => f.molPerS), stdMolPerS: mean((f) => f.stdMolPerS) }
    return [{ body, figure }]
  })
}
