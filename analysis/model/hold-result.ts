import type { ChannelOrigin, OriginKind } from './origin.ts'

export type Verdict = 'pass' | 'fail' | 'undecided' | 'void'

/** Exit codes of `analyze` and `verify`; with several holds the worst counts. */
export const verdictExitCode: Readonly<Record<Verdict, number>> = {
  pass: 0,
  fail: 10,
  undecided: 11,
  void: 12,
}

/** Worst first: fail > void > undecided > pass. */
export const verdictsWorstFirst: readonly Verdict[] = ['fail', 'void', 'undecided', 'pass']

/** Null without any verdict. */
export function worstVerdict(verdicts: readonly (Verdict | null)[]): Verdict | null {
  return verdictsWorstFirst.find((verdict) => verdicts.includes(verdict)) ?? null
}

export type ReasonValues = Readonly<Record<string, string | number | boolean | null | readonly string[]>>

/** Reason of a verdict, data only. `analysis/reasons` words it. */
export interface Reason {
  /** Stable, documented in docs/formats. */
  readonly code: string
  /** SI units, named in the key. */
  readonly values: ReasonValues
}

/** A reason as published: with its sentence in the units of the system file. */
export interface WordedReason {
  readonly code: string
  /** Missing in records of version 0.1 and in judgements of fuel work. */
  readonly values?: ReasonValues
  readonly message: string
}

/** `low` and `high` bound the 95 % interval. */
export interface Estimate {
  readonly value: number
  readonly low: number
  readonly high: number
}

export interface SectionLeak {
  readonly section: string
  readonly mol_per_s?: Estimate
  readonly scc_per_min?: Estimate & { readonly reference: string }
  readonly mL_per_min?: Estimate
  readonly drop_Pa: Estimate
}

export interface AllowanceFigures {
  readonly mol_per_s?: number
  readonly scc_per_min?: number
  readonly mL_per_min?: number
  readonly drop_Pa: number
}

/** A change found inside the hold: of slope or a step, at a known mark or at a time found from the data. */
export interface HoldEvent {
  readonly time_ns: string
  readonly kind: 'slope' | 'step'
  /** Mark that explains it, or null for a change point found from the data alone. */
  readonly mark: { readonly kind: string; readonly id: string | null } | null
  readonly section: string
  /** Change of the leak, [mol/s], or of the pressure, [Pa]. */
  readonly change: Estimate & { readonly unit: 'mol_per_s' | 'm3_per_s' | 'Pa' }
  /** Probability that the change is real, 0 to 1. */
  readonly probability: number
  readonly message: string
}

export type SupplyEvidence = 'off' | 'looked-at' | null

/** Response of the bench to a known leak or a known volume, in the unit of the check's size. */
export interface Proof {
  readonly kind: 'known-leak' | 'known-volume'
  /** Id of the check in the system file. */
  readonly check: string
  readonly section: string
  readonly unit: 'mol_per_s' | 'm3'
  readonly expected: number
  /** Null with too few readings around the check. */
  readonly found: Estimate | null
  readonly proven: boolean
}

/** Sources of the interval's width in a gas hold, each with its part of the model. */
export type BudgetSource =
  | 'gauge' // noise, steps and the first seconds
  | 'drift'
  | 'heat' // gas against wall
  | 'temperature' // room, wall and the thermometer's response to them
  | 'creep'
  | 'compliance'
  | 'flow' // the leak's dependence on pressure
  | 'weather'
  | 'vessel'
  | 'volume'
  | 'calibration' // span, zero and leak law
  | 'rig'

export interface BudgetShare {
  readonly source: BudgetSource
  /** Share of the variance, 0 to 1; the shares of a hold sum to 1. */
  readonly share: number
}

/** One line of `analyze --json`: contract section 5. Keys are the published ones. */
export interface HoldResult {
  readonly stillhold: 1
  readonly recording: string
  readonly hold: string
  readonly sections: readonly string[]
  readonly verdict: Verdict
  readonly reasons: readonly WordedReason[]
  readonly stages: {
    readonly source: 'marks' | 'pressure'
    readonly pump_up_ns: string | null
    readonly settle_ns: string | null
    readonly hold_ns: string | null
    readonly vent_ns: string | null
  }
  readonly seconds: number
  /** One object for one measured section, an array for several, null when nothing could be computed. */
  readonly leak: SectionLeak | readonly SectionLeak[] | null
  /** Shut neighbouring sections whose pressure rose: gains, as negative leaks. Absent without any. */
  readonly neighbors?: readonly SectionLeak[]
  readonly allowance: AllowanceFigures
  readonly raw_drop_Pa: number | null
  readonly needs_seconds_more: number | null
  readonly fittings: readonly { readonly id: string; readonly leaking: number }[]
  readonly events: readonly HoldEvent[]
  /** Proof of the bench within the hold; null or absent when no check was made. */
  readonly proof?: Proof | null
  /** Proof of no inflow from the supply: its hose was removed, or it was inspected before; null: none. */
  readonly supply?: SupplyEvidence
  /** Sources of the interval's width in the deciding section, largest first; null if none, absent if not requested. */
  readonly budget?: readonly BudgetShare[] | null
  /** Origin of each channel's readings; absent where the recording does not state it. */
  readonly origin?: Readonly<Record<string, OriginKind>>
}

/** Practical equivalents of a leak, with their assumptions. */
export interface Meaning {
  readonly drop_per_hour_Pa: number
  /** Diameter of a sharp-edged hole that would pass it, [m]; null for no leak. */
  readonly equivalent_hole_m: number | null
  /** Liquid fuel the same path could pass, [mL/h], and drops a minute. */
  readonly fuel_mL_per_h: number | null
  readonly drops_per_min: number | null
  readonly assumptions: readonly string[]
}

/** Curves for charts and certificates; equal lengths, at most a few hundred points. */
export interface HoldCurves {
  readonly section: string
  /** Seconds from the recording's start. */
  readonly timeS: Float64Array
  /** Start of the hold stage on `timeS`, [s]; absent if not requested, null when there was none. */
  readonly holdStartS?: number | null
  readonly gaugePa: Float64Array
  /** Gauge reading corrected to constant temperature and atmosphere. */
  readonly compensatedPa: Float64Array
  /** The fitted leak line alone, same start as `compensatedPa`. */
  readonly leakLinePa: Float64Array
  readonly temperatureK: Float64Array | null
  readonly barometricPa: Float64Array | null
}

/** An analysed hold: the published result and further data for charts and certificates. */
export interface HoldAnalysis {
  readonly result: HoldResult
  readonly curves: readonly HoldCurves[]
  readonly meaning: readonly (Meaning & { readonly section: string })[]
  /** `result.origin` with the port or file of each. */
  readonly origins?: readonly ChannelOrigin[]
}

export function leaksOf({ leak }: Pick<HoldResult, 'leak'>): readonly SectionLeak[] {
  if (leak == null) return []
  return Array.isArray(leak) ? leak : [leak as SectionLeak]
}
