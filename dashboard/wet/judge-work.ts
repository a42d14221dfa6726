import { calibrateLevel } from '#analysis/fuel-work/calibrate-level.ts'
import { channelFlow } from '#analysis/fuel-work/channel-flow.ts'
import { checkFlow } from '#analysis/fuel-work/check-flow.ts'
import type { FlowResult } from '#analysis/fuel-work/flow-result.ts'
import { judgeTorque, type WorkResult } from '#analysis/fuel-work/judge-torque.ts'
import { judgeWetStage, type WetResult } from '#analysis/fuel-work/judge-wet-stage.ts'
import type { LevelResult } from '#analysis/fuel-work/level-result.ts'
import type { System } from '#analysis/model/system.ts'
import { readFlowSheet, readLevelSheet } from './measured-sheets.ts'
import { SheetError } from './sheet-entries.ts'
import { readWetSheet, readWorkSheet, type Surroundings } from './wet-sheets.ts'

/** Kinds of record of the wet work, with what each finds. */
export interface WorkResults {
  readonly wet: WetResult
  readonly level: LevelResult
  readonly flow: FlowResult
  readonly work: WorkResult
}

export type WorkKind = keyof WorkResults

/** What was found, and the sheet that leads to it again: both are sealed. */
export interface JudgedWork<R = WorkResults[WorkKind]> {
  readonly result: R
  readonly sheet: unknown
}

/**
 * Judges a sheet of the wet work. The same sheet in the same surroundings gives the same result, which is how a sealed one
 * is checked.
 *
 * @throws SheetError naming the first entry that is wrong
 */
export function judgeWork<K extends WorkKind>(
  kind: K,
  sheet: unknown,
  system: System,
  around: Surroundings,
): JudgedWork<WorkResults[K]>[] {
  return judges[kind](sheet, system, around) as JudgedWork<WorkResults[K]>[]
}

const judges: {
  readonly [K in WorkKind]: (
    sheet: unknown,
    system: System,
    around: Surroundings,
  ) => JudgedWork<WorkResults[K]>[]
} = {
  wet: (sheet, system, around) => [
    { result: judgeWetStage(readWetSheet(sheet, system, around), system), sheet },
  ],
  level: (sheet, system, { recording }) => {
    const { channel, section, order, recordings } = readLevelSheet(sheet, system)
    return [{ result: calibrateLevel(recordings.map(recording), channel, section, order), sheet }]
  },
  flow: (sheet, system, { recording }) => [
    { result: checkFlow(readFlowSheet(sheet, system, flowReader(system, recording))), sheet },
  ],
  work: (sheet, system, { nowNs }) =>
    readWorkSheet(sheet, system, nowNs()).map((entry, i) => ({
      result: judgeTorque(system.fittings.find(({ id }) => id === entry.fitting)!, entry),
      sheet: { work: [(sheet as { readonly work: readonly unknown[] }).work[i]] },
    })),
}

function flowReader(system: System, recording: Surroundings['recording']) {
  return (id: string, name: string, fromS: number, untilS: number) => {
    const channel = system.channels.find((one) => one.id === id && one.measures === 'fuel-flow')
    if (!channel) throw new SheetError(`channel ${id}: no fuel-flow channel of the system file`)
    const samples = recording(name).channels.find((one) => one.channel === id)
    const read = samples ? channelFlow(samples, channel, fromS, untilS) : null
    if (!read) throw new SheetError(`${name}: fewer than ten readings of ${id} in that time`)
    return read
  }
}
