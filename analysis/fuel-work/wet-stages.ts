export type WetStageName = 'first-fill-shut' | 'opened' | 'pump-on' | 'brim-full-soak'

export interface WetStage {
  readonly name: WetStageName
  readonly title: string
  /** What is done, one sentence a step. */
  readonly steps: readonly string[]
  /** Least time from the end of filling or switching on to the last look, [s]. Own figure; the maker's comes first. */
  readonly soakS: number
  /** Whether staying dry through it is proof, or only leave to go on. */
  readonly proves: boolean
}

const minute = 60
const hour = 3600

/**
 * Stages of the first fuel, in order; each is done only after the one before passed. A small fill wets only what lies
 * low and a minute of pump proves nothing about a soak: only the last two count as proof, and for what fuel touched.
 *
 * Source: common practice of builders; times are our own figures
 */
export const wetStages: readonly WetStage[] = [
  {
    name: 'first-fill-shut',
    title: 'First small fill, shut-off closed',
    steps: [
      'Outside or with doors open, extinguisher at hand, battery off, tank and can bonded to ground.',
      'Close the tank shut-off, pour in a few liters.',
      'Look at every joint between tank and shut-off, wipe each with a dry white cloth, look again.',
    ],
    soakS: 15 * minute,
    proves: false,
  },
  {
    name: 'opened',
    title: 'Shut-off opened',
    steps: [
      'Wipe every joint downstream dry, then open the shut-off.',
      'Drain a cup at the lowest point: clear, bright, the color of its grade, no water, no dirt.',
      'Look at every joint that fuel now reaches.',
    ],
    soakS: 15 * minute,
    proves: false,
  },
  {
    name: 'pump-on',
    title: 'Pump on, end closed',
    steps: [
      'Close the end of the line with a rated cap, pump on until the pressure stands.',
      'Hold it: the liquid hold between pump and closed end goes into the archive as a hold.',
      'Look at every joint under pressure; pump off and pressure out before anything is touched.',
    ],
    soakS: 10 * minute,
    proves: true,
  },
  {
    name: 'brim-full-soak',
    title: 'Brim-full, overnight',
    steps: [
      'Fill to the brim, leave room as the maker says, caps on, vents free.',
      'Wipe every joint dry; look after thirty minutes and again in the morning.',
      'Blue or brown edges of dried fuel count as a stain.',
    ],
    soakS: 8 * hour,
    proves: true,
  },
]

export const wetStage = (name: string): WetStage | undefined => wetStages.find((stage) => stage.name === name)
