import type { Fitting } from '#analysis/model/system.ts'

/** One pound-force inch, [N·m]: NIST SP 811, 1.3558179483 N·m per lbf·ft over 12. */
const newtonMetersPerInchPound = 1.3558179483 / 12

export type Threads = 'lubricated' | 'dry'

/** A torque range and its joint. */
export interface TorqueRange {
  readonly lowNm: number
  readonly highNm: number
  readonly source: string
  /** Joint of a published table; null for a figure of the file or the maker. */
  readonly purpose: string | null
  /** State of the threads; null if only the source states it. */
  readonly threads: Threads | null
  /** False for a figure from memory, which is for orientation and passes nothing. */
  readonly read: boolean
}

type Column = 'aluminium tube' | 'steel tube' | 'hose'
type Row = Readonly<Partial<Record<Column, readonly [low: number, high: number]>>>

/**
 * Coupling nuts of 37° flared fittings, [in·lb], threads lubricated. The metal of the tube decides, not that of the nut;
 * hose nuts have their own column, for steel and aluminium alike.
 *
 * Source: [tm-55-1520-240-23-1] 1-13, columns C, D and E; the same table in [tm-55-1730-229-12]
 */
const couplingNuts: Readonly<Record<string, Row>> = {
  '-4': { 'aluminium tube': [50, 65], 'steel tube': [135, 150], hose: [100, 120] },
  '-6': { 'aluminium tube': [100, 125], 'steel tube': [270, 300], hose: [210, 250] },
  '-8': { 'aluminium tube': [210, 250], 'steel tube': [450, 500], hose: [340, 420] },
  '-10': { 'aluminium tube': [300, 350], 'steel tube': [650, 700], hose: [400, 480] },
  '-12': { 'aluminium tube': [425, 500], 'steel tube': [900, 1000], hose: [725, 850] },
  '-16': { 'aluminium tube': [600, 700], 'steel tube': [1200, 1400], hose: [900, 1150] },
  '-20': { 'aluminium tube': [680, 800], 'steel tube': [1200, 1400], hose: [950, 1150] },
}

/** Sizes that the table above lacks, [in·lb]: FAA handbook figures from memory, for orientation only. */
const fromMemory: Readonly<Record<string, Row>> = {
  '-3': { 'aluminium tube': [30, 40], 'steel tube': [90, 100] },
  '-5': { 'aluminium tube': [60, 85], 'steel tube': [180, 200] },
}

/**
 * Largest torque of a dry, oil-free cadmium-plated steel screw, [in·lb]. A flange with a gasket takes less: the maker's figure.
 *
 * Source: [ac-43.13-1b] table 7-1, maximum allowable torque with tension nuts
 */
const screwLimits: Readonly<Record<string, number>> = {
  '8-32': 20,
  '8-36': 20,
  '10-24': 35,
  '10-32': 40,
  '1/4-20': 75,
  '1/4-28': 100,
  '5/16-18': 160,
  '5/16-24': 225,
}

/**
 * Torque range of a fitting: its own if the file states one, else the published table for flares and hose nuts.
 *
 * @returns [N·m]; null if neither has one, and for a flare whose tube is of unstated metal (the columns differ threefold)
 * *Check*: −6 aluminium tube 100–125 in·lb is 11.298–14.123 N·m; hose nuts −6 210–250 in·lb is 23.727–28.246 N·m, −10
 * 400–480 in·lb is 45.194–54.233 N·m
 */
export function torqueRange(fitting: Fitting): TorqueRange | null {
  if (fitting.torqueNm) {
    const [lowNm, highNm] = fitting.torqueNm
    return { lowNm, highNm, source: 'system file', purpose: null, threads: null, read: true }
  }
  const column = columnOf(fitting)
  const size = fitting.size?.replace(/^[−–]/, '-')
  if (column === null || size === undefined) return null
  const row = couplingNuts[size]?.[column]
  const [low, high] = row ?? fromMemory[size]?.[column] ?? []
  if (low === undefined || high === undefined) return null
  return {
    lowNm: low * newtonMetersPerInchPound,
    highNm: high * newtonMetersPerInchPound,
    source: row ? 'TM 55-1520-240-23-1, 1-13' : 'FAA handbook, from memory',
    purpose: column === 'hose' ? 'hose nut' : `nut on ${column}`,
    threads: 'lubricated',
    read: row !== undefined,
  }
}

function columnOf({ kind, material }: Fitting): Column | null {
  if (kind === 'hose-end') return 'hose'
  return kind === 'flare' && material !== null ? `${material} tube` : null
}

/** Largest torque of a screw of the fitting's size, [N·m]; null for anything but a screw of the table. */
export function screwLimitNm({ size }: Fitting): number | null {
  const limit = size === null ? undefined : screwLimits[size]
  return limit === undefined ? null : limit * newtonMetersPerInchPound
}

/** A torque in the usual units of wrenches. */
export function torqueWords(nm: number): string {
  const inPounds = nm / newtonMetersPerInchPound
  return `${nm.toFixed(1)} N·m (${inPounds.toFixed(0)} in·lb, ${(inPounds / 12).toFixed(1)} ft·lb)`
}

/** A range with its joint, the state of its threads and its source. */
export function rangeWords({ lowNm, highNm, source, purpose, threads }: TorqueRange): string {
  const inPounds = [lowNm, highNm].map((nm) => (nm / newtonMetersPerInchPound).toFixed(0)).join(' to ')
  const what = [purpose, threads && `threads ${threads}`, source].filter(Boolean).join(', ')
  return `${lowNm.toFixed(1)} to ${highNm.toFixed(1)} N·m, ${inPounds} in·lb (${what})`
}
