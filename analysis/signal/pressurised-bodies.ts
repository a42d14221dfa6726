import type { Recording } from '#analysis/model/samples.ts'
import type { HoldSpec, Section, System } from '#analysis/model/system.ts'
import { holdCoverage } from '#analysis/model/system-graph.ts'
import { pressureSignal } from './pressure-signal.ts'

/**
 * Volumes pressurised by a hold: sections joined by open valves are one volume; each transducer measures its own.
 *
 * @returns the measured sections in the order of the hold, and those without a transducer that has samples
 */
export function pressurisedBodies(recording: Recording, system: System, spec: HoldSpec) {
  const unseen: string[] = []
  const measured = holdCoverage(system, spec).bodies.flatMap((body) => {
    const sections = system.sections.filter(({ id }) => body.sections.includes(id))
    const seen = sections.flatMap((section) => {
      const signal = pressureSignal(recording, system, { sections: [section.id] })
      return signal === null ? [] : [{ section, signal }]
    })
    const named = body.sections.filter((id) => spec.sections.includes(id))
    // A transducer behind an open valve counts only without a nearer one.
    const near = seen.filter(({ section }) => named.includes(section.id))
    if (seen.length === 0) unseen.push(...named)
    return (near.length > 0 ? near : seen.slice(0, 1)).map(({ section, signal }) => ({
      section,
      signal,
      /** Sections of the same pressure, itself among them. */
      joined: body.sections,
      volumeM3: body.volumeM3,
      /** Half-width of the stated tolerances together, [m³]. */
      toleranceM3: Math.hypot(...sections.map((s) => s.volumeToleranceM3)),
    }))
  })
  const place = ({ section }: { readonly section: Section }): number => {
    const at = spec.sections.indexOf(section.id)
    return at < 0 ? spec.sections.length : at
  }
  return { measured: measured.sort((a, b) => place(a) - place(b)), unseen }
}

/** A measured section of a hold, with all sections that share its pressure through open valves. */
export type MeasuredSection = Readonly<ReturnType<typeof pressurisedBodies>['measured'][number]>
