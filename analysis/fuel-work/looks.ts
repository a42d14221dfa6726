/** How a joint was inspected. */
export type LookMethod = 'wiped-dry' | 'paper' | 'talc' | 'lamp-and-mirror' | 'dye' | 'touch'

/**
 * Sensitivity of each method. Fuel that leaks slower than it dries leaves only a stain. A joint is therefore wiped, marked
 * with something that keeps a trace, and inspected again.
 *
 * Source: [tm-1-1500-204-23-3] dye; the rest common practice
 */
export const lookMethods: readonly { readonly name: LookMethod; readonly sees: string }[] = [
  { name: 'wiped-dry', sees: 'wiped with a dry white cloth, then inspected: a wet edge' },
  { name: 'paper', sees: 'white paper pressed on or wrapped around the joint: less than a drop' },
  { name: 'talc', sees: 'talc or developer dusted on the dry joint: the path of a seep, less than a drop' },
  {
    name: 'lamp-and-mirror',
    sees: 'a joint without a direct view; a wet film, not a dried one',
  },
  { name: 'dye', sees: 'a deposit that stays where fuel dries at once, as on hot parts' },
  { name: 'touch', sees: 'a wet surface under the finger; least sensitive, for joints out of sight' },
]

/** Widths of a spot of fuel after wiping, by class. */
export interface SeepScheme {
  readonly name: string
  readonly source: string
  /** Time between wiping dry and the look, to which the widths apply, [s]. */
  readonly afterWipeS: number
  /** Classes in rising order, each below its width (exclusive), [m]; the last is unbounded. */
  readonly classes: readonly { readonly name: string; readonly underM: number | null }[]
}

const inch = 0.0254

/**
 * Seep classes by the spread in 30 minutes: stain under 3/4 in, seep to 1½ in, heavy seep to 4 in, then a running leak.
 *
 * Source: [faa-h-8083-31] chapter 14, fuel leak classification. Schemes differ, so each look is stored with its scheme.
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

/**
 * Class of a wet spot. A running or dripping spot is the last class, whatever its width.
 *
 * @param spreadM width of the spot, [m]
 * @param sinceWipeS time since it was wiped dry, [s]; null when it was not wiped
 * @returns `full` is false when the look was sooner after wiping than the scheme requires: the class is a lower bound
 * *Check*: 1 in after 30 min is a seep, 1½ in a heavy seep (the limits)
 */
export function seepClass(scheme: SeepScheme, spreadM: number, sinceWipeS: number | null, drips = false) {
  const last = scheme.classes[scheme.classes.length - 1]
  if (drips) return { name: last.name, full: true }
  const found = scheme.classes.find(({ underM }) => underM === null || spreadM < underM) ?? last
  return { name: found.name, full: sinceWipeS !== null && sinceWipeS >= scheme.afterWipeS }
}
