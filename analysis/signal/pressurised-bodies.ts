import type { Recording } from '#analysis/model/samples.ts'
import type { HoldSpec, Section, System } from '#analysis/model/system.ts'
import { holdCoverage } from '#analysis/model/system-graph.ts'
import { type PressureSignal, pressureSignal } from './pressure-signal.ts'

/** A measured section of a hold, with all sections that share its pressure through open valves. */
export interface MeasuredSection {
  readonly section: Section
  readonly signal: PressureSignal
  /** Sections of the same pressure, itself among them. */
  readonly joined: readonly string[]
  readonly volumeM3: number
  /** Half-width of the stated tolerances together, [m³]. */
  readonly toleranceM3: number
}

export interface PressurisedBodies {
  readonly measured: readonly MeasuredSection[]
  /** Sections of the hold without a transducer that has samples. */
  readonly unseen: readonly string[]
}

/** Volumes pressurised by a hold: sections joined by open valves are one volume; each transducer measures its own. */
export function pressurisedBodies(recording: Recording, system: System, spec: HoldSpec): PressurisedBodies {
  const measured: MeasuredSection[] = []
  const unseen: string[] = []
  for (const body of holdCoverage(system, spec).bodies) {
    const sections = system.sections.filter(({ id }) => body.sections.includes(id))
    const seen = sections.flatMap((section) => {
      const signal = pressureSignal(recording, system, { sections: [section.id] })
      return signal === null ? [] : [{ section, signal }]
    })
    const named = body.sections.filter((id) => spec.sections.includes(id))
    // A transducer behind an open valve counts only without a nearer one.
    const near = seen.filter(({ section }) => named.includes(section.id))
    for (const { section, signal } of near.length > 0 ? near : seen.slice(0, 1)) {
      measured.push({
        section,
        signal,
        joined: body.sections,
        volumeM3: body.volumeM3,
        toleranceM3: Math.hypot(...sections.map((s) => s.volumeToleranceM3)),
      })
    }
    if (seen.length === 0) unseen.push(...named)
  }
  const place = ({ section }: MeasuredSection): number => {
    const at = spec.sections.indexOf(section.id)
    return at < 0 ? spec.sections.length : at
  }
  return { measured: measured.sort((a, b) => place(a) - place(b)), unseen }
}
