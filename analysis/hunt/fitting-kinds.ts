import type { Fitting, FittingKind, System } from '#analysis/model/system.ts'
import type { EpochBreak } from './leak-problem.ts'
import { rangeWords, torqueRange } from './torque-tables.ts'

/** Name of each kind, and the probability that a newly made joint leaks. Own figures: only their order is common practice. */
export const kindDefaults: Readonly<
  Record<FittingKind, { readonly leakProbability: number; readonly plainName: string }>
> = {
  flare: { leakProbability: 0.05, plainName: 'flare fitting' },
  'pipe-thread': { leakProbability: 0.08, plainName: 'pipe thread' },
  'hose-end': { leakProbability: 0.04, plainName: 'hose end' },
  'drain-valve': { leakProbability: 0.1, plainName: 'drain valve' },
  'sender-gasket': { leakProbability: 0.12, plainName: 'sender gasket' },
  cap: { leakProbability: 0.1, plainName: 'cap' },
  clamp: { leakProbability: 0.08, plainName: 'hose clamp' },
  other: { leakProbability: 0.06, plainName: 'joint' },
}

/** Leak probability from the system's own figures, else the usual ones. */
export function leakProbability(system: System, kind: FittingKind): number {
  return system.priors?.leaking[kind] ?? kindDefaults[kind].leakProbability
}

export type WorkAction = 'retighten' | 'remake' | 'reseal' | 'replace'

/** Effect of work on a joint: probabilities, own figures. */
const workEffects: Readonly<Record<WorkAction, EpochBreak>> = {
  retighten: { cure: 0.6, unchanged: 0.25, harm: 0.02 },
  remake: { cure: 0.85, unchanged: 0.05, harm: 0.04 },
  reseal: { cure: 0.85, unchanged: 0.05, harm: 0.04 },
  replace: { cure: 0.9, unchanged: 0.02, harm: 0.04 },
}

/** An unknown action counts as the least effective one. */
export function workEffect(action: unknown): EpochBreak {
  return workEffects[action as WorkAction] ?? workEffects.retighten
}

/** A joint opened to reach another one: remade, so as likely to leak as a new joint of its kind. @param leak that probability */
export function openedEffect(leak: number): EpochBreak {
  return { cure: 1 - leak, unchanged: 0, harm: leak }
}

const kindAdvice: Readonly<Record<Exclude<FittingKind, 'flare' | 'hose-end'>, string>> = {
  'pipe-thread':
    'take it apart, clean both threads and reseal it; turning a sealed thread further breaks the seal',
  'drain-valve': 'work the valve, clean its seat, then change the O-ring',
  'sender-gasket': 'remove the sender, clean both faces, fit a new gasket and tighten the screws crosswise',
  cap: 'clean the seat and change the seal; check that the cap closes fully',
  clamp: 'check that the hose covers the bead and that the clamp sits behind it, then set the clamp',
  other: 'take it apart, look at the sealing faces and remake it',
}

/** Advice for a weeping fitting, one sentence; always after venting. Common practice; the maker's instructions come first. */
export function weepAdvice(fitting: Fitting): string {
  const torque = torqueRange(fitting)
  const range = torque ? `, ${rangeWords(torque)}` : ''
  return `Vent first, never tighten under pressure: ${adviceWords(fitting, range)}.`
}

function adviceWords(fitting: Fitting, range: string): string {
  if (fitting.kind === 'hose-end')
    return `check that the hose is not twisted and set the nut to its torque${range}; if it still weeps, remake the end`
  if (fitting.kind !== 'flare') return kindAdvice[fitting.kind]
  if (fitting.material === 'steel')
    return `set a steel flare a little tighter within its range${range}; if it still weeps, take it apart`
  if (fitting.material === 'aluminium')
    return `set it to its torque${range}; an aluminium flare that weeps at full torque is taken apart, never forced`
  return 'set it to the torque of its material; an aluminium flare that weeps at full torque is taken apart, never forced'
}
