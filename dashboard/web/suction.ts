import type { HoldSpec, Section } from '#analysis/model/system.ts'

/** A hold below the atmosphere: it is drawn down, not pumped up, and a leak makes it rise. */
export const isSuction = (spec: Pick<HoldSpec, 'pressurePa'> | null | undefined): boolean =>
  (spec?.pressurePa ?? 0) < 0

/** What the gauge must not pass in this hold, [Pa]: the lowest maximum of its sections, or their least vacuum as a negative pressure. Null: stated for none. */
export function limitPa(
  spec: Pick<HoldSpec, 'pressurePa'> | null,
  sections: readonly Pick<Section, 'maxPressurePa' | 'maxVacuumPa'>[],
): number | null {
  const suction = isSuction(spec)
  const stated = sections.flatMap((one) => (suction ? one.maxVacuumPa : one.maxPressurePa) ?? [])
  return stated.length === 0 ? null : suction ? -Math.min(...stated) : Math.min(...stated)
}
