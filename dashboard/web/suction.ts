import type { HoldSpec, Section } from '#analysis/model/system.ts'

/** A hold below atmospheric pressure: drawn down, not pumped up; a leak raises its pressure. */
export const isSuction = (spec: Pick<HoldSpec, 'pressurePa'> | null | undefined): boolean =>
  (spec?.pressurePa ?? 0) < 0

/** Pressure limit of this hold, [Pa]: the lowest maximum of its sections, or their least vacuum as a negative pressure. Null: stated for none. */
export function limitPa(
  spec: Pick<HoldSpec, 'pressurePa'> | null,
  sections: readonly Pick<Section, 'maxPressurePa' | 'maxVacuumPa'>[],
): number | null {
  const suction = isSuction(spec)
  const stated = sections.flatMap((one) => (suction ? one.maxVacuumPa : one.maxPressurePa) ?? [])
  return stated.length === 0 ? null : suction ? -Math.min(...stated) : Math.min(...stated)
}
