import type { System } from '#analysis/model/system.ts'
import { calibrateLevel, type LevelResult } from './calibrate-level.ts'
import { checkFlow, type FlowResult } from './check-flow.ts'
import { readFlowSheet } from './flow-sheet.ts'
import { judgeTorque, readWorkSheet, type WorkResult } from './judge-torque.ts'
import { judgeWetStage, type WetResult } from './judge-wet-stage.ts'
import { readLevelSheet } from './level-sheet.ts'
import { readWetSheet, type Surroundings } from './wet-sheet.ts'

/** Kinds of record of the wet work, with their results. */
export interface WorkResults {
  readonly wet: WetResult
  readonly level: LevelResult
  readonly flow: FlowResult
  readonly work: WorkResult
}

export type WorkKind = keyof WorkResults

/** The result, and the sheet that reproduces it: both are sealed. */
export interface JudgedWork<R = WorkResults[WorkKind]> {
  readonly result: R
  readonly sheet: unknown
}

/**
 * Judges a sheet of the wet work. The same sheet in the same context gives the same result; a sealed record is checked
 * this way.
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

type Judge<R> = (sheet: unknown, system: System, around: Surroundings) => JudgedWork<R>[]

const judges: { readonly [K in WorkKind]: Judge<WorkResults[K]> } = {
  wet: (sheet, system, around) => [
    { result: judgeWetStage(readWetSheet(sheet, system, around), system), sheet },
  ],
  level: (sheet, system, { recording }) => {
    const { channel, section, order, recordings } = readLevelSheet(sheet, system)
    return [{ result: calibrateLevel(recordings.map(recording), channel, section, order), sheet }]
  },
  flow: (sheet, system, { recording }) => [
    { result: checkFlow(readFlowSheet(sheet, system, recording)), sheet },
  ],
  work: (sheet, system, { nowNs }) =>
    readWorkSheet(sheet, system, nowNs()).map((entry, i) => ({
      result: judgeTorque(system.fittings.find(({ id }) => id === entry.fitting)!, entry),
      sheet: { work: [(sheet as { readonly work: readonly unknown[] }).work[i]] },
    })),
}
