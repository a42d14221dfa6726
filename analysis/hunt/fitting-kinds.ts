import type { Fitting, FittingKind } from '#analysis/model/system.ts'

/** What the trade expects of one kind of fitting. */
export interface KindDefaults {
  /** Probability that a newly made joint of this kind leaks. Own figures: only their order is common practice. */
  readonly leakProbability: number
  readonly plainName: string
}

export const kindDefaults: Readonly<Record<FittingKind, KindDefaults>> = {
  flare: { leakProbability: 0.05, plainName: 'flare fitting' },
  'pipe-thread': { leakProbability: 0.08, plainName: 'pipe thread' },
  'hose-end': { leakProbability: 0.04, plainName: 'hose end' },
  'drain-valve': { leakProbability: 0.1, plainName: 'drain valve' },
  'sender-gasket': { leakProbability: 0.12, plainName: 'sender gasket' },
  cap: { leakProbability: 0.1, plainName: 'cap' },
  clamp: { leakProbability: 0.08, plainName: 'hose clamp' },
  other: { leakProbability: 0.06, plainName: 'joint' },
}

export type WorkAction = 'retighten' | 'remake' | 'reseal' | 'replace'

/** What work does to a joint: probabilities, own figures. */
export interface WorkEffect {
  /** A leaking joint is tight afterwards. */
  readonly cure: number
  /** A leaking joint leaks afterwards as it did before. */
  readonly unchanged: number
  /** A tight joint leaks afterwards. */
  readonly harm: number
}

const workEffects: Readonly<Record<WorkAction, WorkEffect>> = {
  retighten: { cure: 0.6, unchanged: 0.25, harm: 0.02 },
  remake: { cure: 0.85, unchanged: 0.05, harm: 0.04 },
  reseal: { cure: 0.85, unchanged: 0.05, harm: 0.04 },
  replace: { cure: 0.9, unchanged: 0.02, harm: 0.04 },
}

/** A word that is none of the four actions counts as the least hopeful of them. */
export function workEffect(action: unknown): WorkEffect {
  return workEffects[action as WorkAction] ?? workEffects.retighten
}

/** A joint opened only to reach another one: made anew, so as likely to leak as any new joint of its kind. */
export function openedEffect(kind: FittingKind): WorkEffect {
  const leak = kindDefaults[kind].leakProbability
  return { cure: 1 - leak, unchanged: 0, harm: leak }
}

/** One pound-force inch, [N·m]: NIST SP 811, 1.3558179483 N·m per lbf·ft over 12. */
const newtonMetersPerInchPound = 1.3558179483 / 12

/** Lubricated flare nuts, [in·lb]. Source: TM 55-1520-240-23-1, table of tube fitting torques. */
const torqueInchPounds: Readonly<Record<string, Readonly<Record<'aluminium' | 'steel', readonly number[]>>>> =
  {
    '-4': { aluminium: [50, 65], steel: [135, 150] },
    '-6': { aluminium: [100, 125], steel: [270, 300] },
    '-8': { aluminium: [210, 250], steel: [450, 500] },
    '-10': { aluminium: [300, 350], steel: [650, 700] },
    '-12': { aluminium: [425, 500], steel: [900, 1000] },
  }

export interface TorqueRange {
  readonly lowNm: number
  readonly highNm: number
  readonly source: 'system file' | 'TM 55-1520-240-23-1'
}

/**
 * Torque range of a fitting: its own where the file states one, else the published table for flares and hose ends.
 *
 * @returns [N·m]; null where neither knows, and for a flare of unstated material (the two tables differ threefold).
 * *Source*: TM 55-1520-240-23-1, lubricated, by dash size and tube material.
 * *Check*: −6 aluminium 100–125 in·lb is 11.298–14.123 N·m.
 */
export function torqueRange(fitting: Fitting): TorqueRange | null {
  if (fitting.torqueNm)
    return { lowNm: fitting.torqueNm[0], highNm: fitting.torqueNm[1], source: 'system file' }
  const flared = fitting.kind === 'flare' || fitting.kind === 'hose-end'
  if (!flared || fitting.size === null || fitting.material === null) return null
  const row = torqueInchPounds[fitting.size.replace(/^[−–]/, '-')]?.[fitting.material]
  if (!row) return null
  return {
    lowNm: row[0] * newtonMetersPerInchPound,
    highNm: row[1] * newtonMetersPerInchPound,
    source: 'TM 55-1520-240-23-1',
  }
}

const kindAdvice: Readonly<Record<Exclude<FittingKind, 'flare'>, string>> = {
  'pipe-thread':
    'take it apart, clean both threads and reseal it; turning a sealed thread further breaks the seal',
  'hose-end':
    'check that the hose is not twisted and set the nut to its torque; if it still weeps, remake the end',
  'drain-valve': 'work the valve, clean its seat, then change the O-ring',
  'sender-gasket': 'remove the sender, clean both faces, fit a new gasket and tighten the screws crosswise',
  cap: 'clean the seat and change the seal; check that the cap closes fully',
  clamp: 'check that the hose covers the bead and that the clamp sits behind it, then set the clamp',
  other: 'take it apart, look at the sealing faces and remake it',
}

/** What to do when a fitting weeps, one sentence; always after venting. Common practice; the maker's word comes first. */
export function weepAdvice(fitting: Fitting): string {
  const torque = torqueRange(fitting)
  const range = torque
    ? ` (${torque.lowNm.toFixed(1)}–${torque.highNm.toFixed(1)} N·m, ${torque.source})`
    : ''
  return `Vent first, never tighten under pressure: ${adviceWords(fitting, range)}.`
}

function adviceWords(fitting: Fitting, range: string): string {
  if (fitting.kind !== 'flare') return kindAdvice[fitting.kind]
  if (fitting.material === 'steel')
    return `a steel flare may be set a little tighter within its range${range}; if it still weeps, take it apart`
  if (fitting.material === 'aluminium')
    return `below its torque${range} set it to torque; an aluminium flare that weeps at full torque is taken apart, never forced`
  return 'set it to the torque of its material; an aluminium flare that weeps at full torque is taken apart, never forced'
}
