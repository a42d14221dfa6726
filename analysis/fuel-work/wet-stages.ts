export type WetStageName =
  | 'before-fuel'
  | 'first-fill-shut'
  | 'opened'
  | 'pump-on'
  | 'brim-full-soak'
  | 'engine-run'
  | 'first-flight'
  | 'defuel'

/** One step of a stage. */
export interface WetStep {
  readonly text: string
  /** The step protects people or the aircraft: no reason excuses its omission. */
  readonly safety: boolean
  /** The step that the liquid hold proves. */
  readonly hold?: true
  /** Source of its figures. */
  readonly source?: string
}

export interface WetStage {
  readonly name: WetStageName
  readonly title: string
  readonly steps: readonly WetStep[]
  /** Least time from `began` (filled, opened, pump or engine on) to the last look, [s]. Own figures. */
  readonly soakS: number
  /** Whether joints are inspected; other stages pass by their steps alone. */
  readonly looks: boolean
  /** Whether staying dry through it is proof, or only permission to continue. */
  readonly proves: boolean
}

const minute = 60
const hour = 3600

const safety = (text: string, source?: string): WetStep => ({ text, safety: true, source })
const step = (text: string, source?: string): WetStep => ({ text, safety: false, source })

/** First steps of every stage with fuel. */
const withFuel: readonly WetStep[] = [
  safety(
    'Work outdoors, or with the doors open where the local fire code allows fuel indoors. No ignition source; battery off unless this stage needs it.',
  ),
  safety('Put a fire extinguisher for burning liquids within reach and have a second person present.'),
  safety(
    'Bond first: aircraft and metal can to each other, then the metal funnel in contact with the filler. Undo in reverse order. Use no plastic can or funnel; bond a composite tank as its maker says.',
  ),
]

/**
 * The fuelling checks, in order; each starts only after the previous one passed. A small fill wets only the low parts, and a
 * minute of pump proves nothing about a soak: only stages that `prove` count, and only for the joints that fuel touched.
 *
 * Source: [tm-1-1500-204-23-3] pump against the closed main shut-off, dye, inspection after engine run; [uscg-fuel-guide]
 * 183.580(b) no ammonia on brass; [14-cfr-23] 23.969 expansion space; [ac-43.13-1b] 8-34 and [nfpa-410] from memory. The
 * soak times are our own figures
 */
export const wetStages: readonly WetStage[] = [
  {
    name: 'before-fuel',
    title: 'Before the first fuel',
    steps: [
      safety('Take out every plug and cap of the dry holds and count them against the list.'),
      safety('Check that every sealant has cured for the time its maker states.'),
      safety(
        'Blow each vent line and vented cap through by mouth or hand bulb; never inhale. Air must leave freely: a blocked vent collapses a tank or stops the feed.',
      ),
      step('Rinse the soap off every joint and dry it. Ammonia in some soaps cracks brass fittings.'),
      step('Clean the strainer screens and the bowl; inspect the bowl gasket.'),
      step('Read the cure date of every hose; replace a hose past its maker’s limit.'),
    ],
    soakS: 0,
    looks: false,
    proves: false,
  },
  {
    name: 'first-fill-shut',
    title: 'Initial fill, shut-off closed',
    steps: [
      ...withFuel,
      safety(
        'Cap the open end of the line and close the tank shut-off: a high wing drains onto the floor through an open end.',
      ),
      step('Add a few liters.'),
      step('Wipe every joint between tank and shut-off dry and inspect it; inspect it again after the soak.'),
    ],
    soakS: 15 * minute,
    looks: true,
    proves: false,
  },
  {
    name: 'opened',
    title: 'Shut-off opened',
    steps: [
      ...withFuel,
      safety('Check that the end of the line is capped or connected before the shut-off is opened.'),
      step('Wipe every joint downstream dry, then open the shut-off.'),
      step(
        'Flush: drain at the lowest point until a cup is clear and bright, of the color of its grade, without water or dirt; clean the strainer bowl again.',
      ),
      step('Inspect every joint that fuel now reaches, and the vent outlet: fuel there means a siphon.'),
    ],
    soakS: 15 * minute,
    looks: true,
    proves: false,
  },
  {
    name: 'pump-on',
    title: 'Pump on, end closed',
    steps: [
      ...withFuel,
      step(
        'Run the pump against the closed main shut-off, which opens no joint. Only where there is none: cap the line with a rated cap.',
      ),
      {
        text: 'Hold the pressure: the liquid hold between pump and closed end goes into the archive as a hold.',
        safety: false,
        hold: true,
      },
      step('Inspect every joint under pressure, no longer than needed.'),
      safety('Pump off and pressure released before anything is touched.'),
      step('A joint opened to cap the line: reconnect it, pump on, inspect that joint again.'),
    ],
    soakS: 10 * minute,
    looks: true,
    proves: true,
  },
  {
    name: 'brim-full-soak',
    title: 'Full overnight',
    steps: [
      ...withFuel,
      safety(
        'Fill, but leave the expansion space the maker states, 2 % of the tank at least: morning sun expands the fuel by about 1 % for 8 °C.',
        '14 CFR 23.969, from memory; the expansion of avgas by API MPMS 11.1',
      ),
      step('Caps on, vents free.'),
      step('Wipe every joint dry; inspect after thirty minutes and again in the morning.', 'FAA-H-8083-31'),
      step('Blue or brown edges of dried fuel count as a stain.'),
    ],
    soakS: 8 * hour,
    looks: true,
    proves: true,
  },
  {
    name: 'engine-run',
    title: 'After the first engine run',
    steps: [
      ...withFuel,
      safety(
        'Wheels chocked or floats tied, propeller arc clear, a person with the extinguisher outside it.',
      ),
      step('Run 10 to 20 minutes with each pump and each tank selected in turn.', 'own figure'),
      safety('Stop, switches and battery off, before anybody reaches into the engine bay.'),
      step(
        'Inspect every joint again, those of the engine bay with lamp and mirror. On hot parts fuel dries at once: look for dye or stain.',
      ),
    ],
    soakS: 10 * minute,
    looks: true,
    proves: true,
  },
  {
    name: 'first-flight',
    title: 'After the first flight',
    steps: [
      ...withFuel,
      step('Fly 10 to 20 minutes near the field.', 'own figure'),
      step('Inspect every joint again, the vent outlets, and the skin below the tanks.'),
      step('Check the strainer bowl for dirt and water, and every witness mark for movement.'),
    ],
    soakS: 10 * minute,
    looks: true,
    proves: true,
  },
  {
    name: 'defuel',
    title: 'Defuel and dispose',
    steps: [
      ...withFuel,
      step('Drain below the joint that is to be opened, into a bonded metal can that is closed and labeled.'),
      step(
        'Keep the vapor in mind: an empty tank burns more readily than a full one. Leave it open to the air outdoors.',
      ),
      step('Hand over spoiled or dyed fuel as the local rules say; never into a drain or onto the ground.'),
    ],
    soakS: 0,
    looks: false,
    proves: false,
  },
]

/** Stages before a given one; defuelling is outside the order. */
export function stagesEarlierThan(name: WetStageName): readonly WetStage[] {
  return name === 'defuel'
    ? []
    : wetStages.slice(
        0,
        wetStages.findIndex((one) => one.name === name),
      )
}

export const wetStage = (name: string): WetStage | undefined => wetStages.find((stage) => stage.name === name)
