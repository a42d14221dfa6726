/** How wide a spot of fuel may spread after it was wiped, class by class. */
export interface SeepScheme {
  readonly name: string
  readonly source: string
  /** Time between wiping the place dry and the look that the widths are for, [s]. */
  readonly afterWipeS: number
  /** Classes from the smallest; each up to and without its width, [m]; the last has no width of its own. */
  readonly classes: readonly { readonly name: string; readonly underM: number | null }[]
}

const inch = 0.0254

/**
 * Seep classes by the spread in 30 minutes: stain under 3/4 in, seep to 1½ in, heavy seep to 4 in, then a running leak.
 *
 * Source: [faa-h-8083-31] chapter 14, fuel leak classification. Schemes differ, so each look is kept with the scheme that
 * named it.
 */
export const handbookScheme: SeepScheme = {
  name: 'spread in 30 min',
  source: 'FAA-H-8083-31, chapter 14',
  afterWipeS: 1800,
  classes: [
    { name: 'stain', underM: 0.75 * inch },
    { name: 'seep', underM: 1.5 * inch },
    { name: 'heavy seep', underM: 4 * inch },
    { name: 'running leak', underM: null },
  ],
}

export interface SeepClass {
  readonly name: string
  /** False when it was looked at sooner after wiping than the scheme is for: the class is then the least it can be. */
  readonly full: boolean
}

/**
 * Class of a wet place. What runs or drips is the last class whatever its width.
 *
 * @param spreadM width of the spot, [m]
 * @param sinceWipeS time since it was wiped dry, [s]; null when it was not wiped
 * *Check*: 1 in after 30 min is a seep, 1½ in a heavy seep (the limits)
 */
export function seepClass(
  scheme: SeepScheme,
  spreadM: number,
  sinceWipeS: number | null,
  drips = false,
): SeepClass {
  const last = scheme.classes[scheme.classes.length - 1]
  if (drips) return { name: last.name, full: true }
  const found = scheme.classes.find(({ underM }) => underM === null || spreadM < underM) ?? last
  return { name: found.name, full: sinceWipeS !== null && sinceWipeS >= scheme.afterWipeS }
}
