/** One aircraft's fuel system as its file describes it, with every quantity in SI units. */
export interface System {
  readonly name: string
  /** Reference temperature of a standard cubic centimetre, [K]; its pressure is always 101.325 kPa. */
  readonly sccReferenceK: number
  readonly channels: readonly Channel[]
  readonly sections: readonly Section[]
  readonly fittings: readonly Fitting[]
  readonly valves: readonly Valve[]
  readonly holds: readonly HoldSpec[]
  readonly checks?: readonly Check[]
  readonly aircraft?: Aircraft
  readonly priors?: Priors
}

/** How often a newly made joint of a kind leaks, from other counts; omitted kinds keep the usual figure. */
export interface Priors {
  readonly source: string
  readonly leaking: Readonly<Partial<Record<FittingKind, number>>>
}

/** The aircraft as its papers name it; null where the file leaves it out. */
export interface Aircraft {
  readonly registration: string | null
  readonly serial: string | null
}

export const channelKinds = [
  'gauge-pressure',
  'absolute-pressure',
  'temperature',
  'barometric-pressure',
  // Gauge pressure of a closed twin vessel beside the section.
  'reference-pressure',
  'level-sender',
  'fuel-flow',
] as const
export type ChannelKind = (typeof channelKinds)[number]

/** Whether a channel of this kind measures the pressure of its section. */
export function isSectionPressure(measures: string): boolean {
  return measures === 'gauge-pressure' || measures === 'absolute-pressure'
}

/** Location of a channel's numbers in a recording: all named tags must match. */
export interface ChannelSource {
  readonly measurement: string
  readonly field: string
  readonly tags: Readonly<Record<string, string>>
}

/** How raw numbers (volts, milliamperes, ohms, counts) become a reading in the channel's unit. */
export type ChannelScale =
  /** value = offset + slope·raw, in the channel's SI unit. */
  | { readonly kind: 'linear'; readonly slopeSi: number; readonly offsetSi: number }
  /** raw is divided by the rail measured in another field, then linear. */
  | {
      readonly kind: 'ratiometric'
      readonly rail: ChannelSource
      readonly lowRatio: number
      readonly highRatio: number
      readonly lowSi: number
      readonly highSi: number
    }
  /** Thermistor: ohms to kelvin by the beta law. */
  | { readonly kind: 'ntc'; readonly ohmsAt25C: number; readonly betaK: number }
  /** Platinum thermometer: ohms to kelvin by IEC 60751. */
  | { readonly kind: 'pt'; readonly ohmsAt0C: number }

export interface Calibration {
  /** ISO date, as written. */
  readonly date: string
  /** ISO date after which it is overdue; null when not stated. */
  readonly due: string | null
  /** [true, read] pairs in SI units, ascending by read. */
  readonly points: readonly (readonly [trueSi: number, readSi: number])[]
}

export interface Channel {
  /** For a gauge that is moved, its id in the file and the section: `p1@left-feed`. */
  readonly id: string
  readonly measures: ChannelKind
  /** Section id; null for the barometer. */
  readonly section: string | null
  readonly from: ChannelSource
  /** Unit of the incoming numbers as written in the file. */
  readonly unit: string
  readonly scale: ChannelScale | null
  /** Span of the sensor, SI; a reading at either end counts as clipped. */
  readonly rangeSi: readonly [low: number, high: number] | null
  /** Smallest step of the reading, SI; null: estimate from the data. */
  readonly resolutionSi: number | null
  /** Half-width of the maker's accuracy, SI. */
  readonly accuracySi: number | null
  readonly calibration: Calibration | null
  /** Medium that a thermometer touches; absent: unknown. */
  readonly on?: ThermometerPlace
  /** Serial number of the sensor, as written. */
  readonly serial?: string
  /** For a gauge that is moved between sections: the file's channel, listed once per section. */
  readonly movable?: { readonly id: string; readonly places: readonly string[] }
}

/** Whether marks with this id refer to the channel: its own, or that of the moved gauge. */
export function isNamed({ id, movable }: Pick<Channel, 'id' | 'movable'>, name: string | null): boolean {
  return name === id || (movable !== undefined && name === movable.id)
}

export type ThermometerPlace = 'wall' | 'gas' | 'air'

export const media = ['air', 'nitrogen', 'avgas', 'mogas', 'jet-a'] as const
export type Medium = (typeof media)[number]

export interface Section {
  readonly id: string
  readonly medium: Medium
  /** Volume at zero gauge pressure, [m³]. */
  readonly volumeM3: number
  /** Half-width of the stated tolerance, [m³]; 0 when none is stated. */
  readonly volumeToleranceM3: number
  /** Gauge, [Pa]; null when not stated. */
  readonly maxPressurePa: number | null
  /** Largest vacuum below the atmosphere, [Pa] > 0; null when not stated. */
  readonly maxVacuumPa: number | null
  /** Growth of the volume with gauge pressure, [1/Pa]; null: unknown, which is not zero. */
  readonly stretchPerPa: number | null
  /** Kind of section, if stated; null: decided by its volume. */
  readonly kind: 'line' | 'tank' | 'rig' | null
  /** Tank figures for the wet work; null when not stated. */
  readonly capacityM3: number | null
  readonly unusableM3: number | null
}

/** Whether a section is a tank: as the file says, else from 5 L on. Own figure. */
export function isTank({ kind, volumeM3 }: Pick<Section, 'kind' | 'volumeM3'>): boolean {
  return kind === null ? volumeM3 >= 5e-3 : kind === 'tank'
}

export const fittingKinds = [
  'flare',
  'pipe-thread',
  'hose-end',
  'drain-valve',
  'sender-gasket',
  'cap',
  'clamp',
  'other',
] as const
export type FittingKind = (typeof fittingKinds)[number]

export interface Fitting {
  readonly id: string
  readonly section: string
  readonly kind: FittingKind
  /** Dash size as written, such as `-6`; null when not stated. */
  readonly size: string | null
  readonly name: string
  readonly material: 'aluminium' | 'steel' | null
  /** Stated torque or range, [N·m]. */
  readonly torqueNm: readonly [low: number, high: number] | null
  /** Ids of joints that must be opened to reach this one. */
  readonly behind: readonly string[]
}

export const valveKinds = ['selector', 'shut-off', 'check', 'cap', 'pump', 'gauge-cock'] as const

export interface Valve {
  readonly id: string
  /** Sections it separates; one entry for a cap or plug to the outside. */
  readonly between: readonly string[]
  readonly name: string
  readonly kind: (typeof valveKinds)[number] | null
}

/** A known disturbance of a section: a hold that shows its stated size proves that the gauge would show a leak. */
export type Check = {
  readonly id: string
  readonly section: string
  /** Half-width of its stated uncertainty, as a share of its size. */
  readonly tolerance: number
} & (
  | {
      readonly kind: 'known-leak'
      /** Rate at `atPa` above a standard atmosphere, [mol/s]. */
      readonly molPerS: number
      /** Gauge, [Pa]. */
      readonly atPa: number
    }
  | {
      readonly kind: 'known-volume'
      /** Volume by which the plunger reduces the section, [m³]. */
      readonly volumeM3: number
    }
)

export type Allowance =
  | { readonly kind: 'drop'; readonly dropPa: number }
  /** Rise of a section under vacuum. */
  | { readonly kind: 'rise'; readonly dropPa: number }
  | { readonly kind: 'gas-leak'; readonly molPerS: number }
  | { readonly kind: 'liquid-leak'; readonly m3PerS: number }

export interface HoldSpec {
  readonly id: string
  readonly sections: readonly string[]
  /** Ids of valves shut for it. */
  readonly shut: readonly string[]
  /** Stated test pressure, gauge, [Pa]; negative for a suction hold. */
  readonly pressurePa: number
  readonly settleS: number
  readonly holdS: number
  /** Whether a rule or an inspector prescribes the hold time, or a verdict may end it; absent: prescribed. */
  readonly time?: 'prescribed' | 'until-decided'
  readonly allow: Allowance
  /** Source of the allowance, as written; null when not stated. */
  readonly allowSource: string | null
  /** Id of the section that is the test rig (hose, caps, gauge) and is part of what is pressurised. */
  readonly rig: string | null
  /** Whether a pass needs a proof of the bench; absent: only where a gauge cock is declared. */
  readonly proof?: 'required' | 'optional'
}

/** A hold that the file does not state: a marked one of another file, or an isolation. */
export const unstatedHold: HoldSpec = {
  id: '',
  sections: [],
  shut: [],
  pressurePa: 0,
  settleS: 0,
  holdS: 0,
  allow: { kind: 'drop', dropPa: 0 },
  allowSource: null,
  rig: null,
}
