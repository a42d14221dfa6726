/** What a look finds; everything but dry is fuel outside. */
export const wetFindings = ['dry', 'stain', 'seep', 'bubbles', 'drip'] as const
export type WetFinding = (typeof wetFindings)[number]

/** How a joint was inspected. */
export type LookMethod = 'wiped-dry' | 'paper' | 'talc' | 'lamp-and-mirror' | 'dye' | 'touch'

/**
 * What each method can see. Fuel that leaves slower than it dries leaves only a stain: that is why a joint is wiped, marked
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
    sees: 'a joint that the eye does not reach directly; a wet film, not a dried one',
  },
  { name: 'dye', sees: 'a deposit that stays where fuel dries at once, as on hot parts' },
  { name: 'touch', sees: 'a wet surface under the finger; says least, for joints nobody can see' },
]
