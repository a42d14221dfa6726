import {
  rangeWords,
  screwLimitNm,
  type TorqueRange,
  torqueRange,
  torqueWords,
} from '#analysis/hunt/torque-tables.ts'
import { isoTime } from '#analysis/model/samples.ts'
import type { Fitting, System } from '#analysis/model/system.ts'
import { findings, judged, type WeighedReason } from './findings.ts'
import { SheetEntries, SheetError, shortUtc } from './sheet-entries.ts'
import { workFields } from './sheet-fields.ts'

/**
 * Work sheet: `work`, a list with one line per fitting.
 *
 * @throws SheetError naming the first entry that is wrong
 */
export function readWorkSheet(value: unknown, system: System, nowNs: bigint) {
  const sheet = new SheetEntries(value, 'work sheet')
  const lines = sheet.list('work')
  sheet.finish()
  if (lines.length === 0) throw new SheetError('work sheet: work names no fitting')
  return lines.map((line, i) => {
    const entry = new SheetEntries(line, `work ${i + 1}`)
    const is = entry.read(workFields, system)
    const read = {
      fitting: is.fitting,
      action: is.action,
      /** Set torque and half width of the tool's tolerance; null when not torqued. */
      torqueNm: is.torque?.value ?? null,
      toleranceNm: is.torque?.tolerance ?? null,
      /** As the wrench read it, in its own unit. */
      torqueAsRead: entry.optionalText('torque'),
      /** Torque that turned a self-locking nut before it seated: included in the wrench reading. */
      runOnNm: is['run-on']?.value ?? null,
      threads: is.threads,
      /** The maker's range; null: that of the file or the published table. */
      makerRangeNm: is.range,
      makerSource: is['range-source'],
      /** The maker's instruction for a joint set without a wrench, such as a turn past finger tight. */
      turn: is.turn,
      bolts:
        is.bolts === null
          ? null
          : {
              count: is.bolts,
              passes: is.passes ?? entry.fail('passes', 'is missing'),
              sequence: is.sequence ?? entry.fail('sequence', 'is missing'),
            },
      sealant: is.sealant,
      /** Cure time of the sealant before pressure is allowed; 0 for one that does not cure. */
      cureS: is.cure?.value ?? null,
      tool: is.tool,
      toolCalibrated: is.calibrated,
      toolDue: is.due,
      by: is.by,
      timeNs: is.at,
      witnessMark: is['witness-mark'] ?? entry.flag('stripe') ?? false,
    }
    entry.finish()
    if (BigInt(read.timeNs) > nowNs) entry.fail('at', `is later than now (${shortUtc(nowNs)})`)
    return read
  })
}

export type WorkEntry = Omit<ReturnType<typeof readWorkSheet>[number], 'fitting'>

/**
 * Calibration interval of a torque wrench in months, when no due date is stated.
 *
 * Source: [ac-43.13-1b] 7-40 a: at least once a year
 */
const calibrationMonths = 12

/** Passes over a pattern of screws, the first no tighter than about half: common practice. */
const fewestPasses = 2

/** Range for a fitting: the maker's, then that of the system file, then the published table. */
export function rangeFor(
  fitting: Fitting,
  maker: WorkEntry['makerRangeNm'],
  makerSource: string | null,
): TorqueRange | null {
  if (!maker) return torqueRange(fitting)
  const source = makerSource ?? 'maker, source not named'
  return { lowNm: maker[0], highNm: maker[1], source, purpose: null, threads: null, read: true }
}

const say = findings({
  fail: {
    'screw-overloaded':
      '{id}: {set} on a screw {size} that bears {limit} (AC 43.13-1B table 7-1): replace it.',
    'torque-too-high': '{said}: too tight. Take it apart and inspect its seat before it is used.',
    'torque-too-low': '{said}: too loose.',
  },
  undecided: {
    'no-witness-mark': '{id} carries no witness mark across nut and body: nobody can see whether it moves.',
    'turn-without-source': '{id}: set without a wrench ({turn}); name the maker’s page.',
    'torque-not-entered': '{id}: no torque was entered{range}.',
    'no-range': '{id}: no published range for a {kind}: enter the maker’s.',
    'torque-near-limit': '{said}: with the tool’s tolerance it may be outside.',
    'range-from-memory': '{id}: that range is from memory and only a guide: enter the maker’s.',
    'threads-not-as-table': '{id}: the range is for {wanted} threads; these were {threads}.',
    'pattern-not-stated':
      '{id}: state the screws, the passes and the sequence in which the flange was tightened.',
    'pattern-uneven': '{pattern}: tighten crosswise, in {fewest} passes at least.',
    'cure-not-stated': '{id}: name the sealant and its cure time; 0 h for one that does not cure.',
    'tool-not-named': 'The torque wrench is not named.',
    'tool-not-calibrated': '{tool}: no date of calibration.',
    'tool-calibrated-later': '{tool}: calibrated on {on}, after the work of {day}.',
    'tool-overdue': '{tool}: its calibration was due on {due}, before the work of {day}.',
  },
  note: {
    'hold-again': '{id} was disturbed: its earlier proof no longer counts. Hold it again.',
    'set-by-turn': '{id}: set without a wrench: {turn} ({source}).',
    'torque-in-range': '{said}.',
    'pattern-followed': '{pattern}.',
    'no-cure': '{id}: {sealant}; it does not cure.',
    'cures-until': '{id}: {sealant} cures until {until} UTC: no hold before.',
    'tool-in-calibration': '{tool}: calibrated {on}, good until {due}.',
  },
})

/** Result of one line of the work sheet, sealed as a record of kind `work`; ledger and hunt read `id` and `action`. */
export type WorkResult = ReturnType<typeof judgeTorque>

/** Judges one line of the work sheet: the torque is in range with the tool's whole tolerance, or the line stays open. */
export function judgeTorque(fitting: Fitting, entry: WorkEntry) {
  const range = rangeFor(fitting, entry.makerRangeNm, entry.makerSource)
  const { id, section } = fitting
  const cured =
    entry.cureS === null ? null : BigInt(entry.timeNs) + BigInt(Math.round(entry.cureS)) * 1_000_000_000n
  const reasons = [
    ...torqueReasons(fitting, entry, range),
    ...patternReasons(fitting, entry),
    ...sealantReasons(id, entry, cured),
    ...toolReasons(entry),
    ...(entry.witnessMark ? [] : say('no-witness-mark', { id })),
    ...say('hold-again', { id }),
  ]
  return {
    stillhold: 1 as const,
    id,
    section,
    time_ns: entry.timeNs,
    action: entry.action,
    ...judged(reasons),
    torque_Nm: entry.torqueNm,
    torque_tolerance_Nm: entry.toleranceNm,
    torque_as_read: entry.torqueAsRead,
    run_on_Nm: entry.runOnNm,
    threads: entry.threads,
    range_low_Nm: range?.lowNm ?? null,
    range_high_Nm: range?.highNm ?? null,
    range_source: range?.source ?? null,
    turn: entry.turn,
    bolts: entry.bolts,
    sealant: entry.sealant,
    /** No hold before this time; null where nothing cures. */
    cured_time_ns: cured === null || entry.cureS === 0 ? null : String(cured),
    tool: entry.tool,
    tool_calibrated: entry.toolCalibrated,
    tool_due: entry.toolDue,
    by: entry.by,
    witness_mark: entry.witnessMark,
  }
}

function torqueReasons(fitting: Fitting, entry: WorkEntry, range: TorqueRange | null): WeighedReason[] {
  const { id, kind, size, material } = fitting
  const { torqueNm, turn, makerSource } = entry
  if (torqueNm === null && turn !== null)
    return makerSource === null
      ? say('turn-without-source', { id, turn })
      : say('set-by-turn', { id, turn, source: makerSource })
  if (torqueNm === null)
    return say('torque-not-entered', { id, range: range ? `; ${rangeWords(range)}` : '' })
  const runOn = entry.runOnNm ?? 0
  const half = entry.toleranceNm ?? 0
  const set = torqueNm - runOn
  const limit = screwLimitNm(fitting)
  if (limit !== null && set - half > limit)
    return say('screw-overloaded', { id, set: torqueWords(set), size: `${size}`, limit: torqueWords(limit) })
  if (range === null) {
    const metal = kind === 'flare' && !material ? ' on a tube of unstated metal' : ''
    return say('no-range', { id, kind: `${kind}${size ? ` ${size}` : ''}${metal}` })
  }
  const said = `${id}: set to ${torqueWords(torqueNm)}${half > 0 ? ` ± ${half.toFixed(1)} N·m` : ''}${runOn > 0 ? `, ${torqueWords(runOn)} of it run-on torque` : ''}; range ${rangeWords(range)}`
  // The table is in whole inch-pounds: an excess of a thousandth is rounding.
  const slack = 1e-3 * range.highNm
  if (set - half > range.highNm + slack) return say('torque-too-high', { said })
  if (set + half < range.lowNm - slack) return say('torque-too-low', { said })
  const isNear = set + half > range.highNm + slack || set - half < range.lowNm - slack
  const wanted = range.threads
  return [
    ...say(isNear ? 'torque-near-limit' : 'torque-in-range', { said }),
    ...(range.read ? [] : say('range-from-memory', { id })),
    ...(wanted === null || entry.threads === wanted
      ? []
      : say('threads-not-as-table', { id, wanted, threads: entry.threads ?? 'not stated' })),
  ]
}

/** The screws of a flange are tightened crosswise and in passes, or the gasket is compressed on one side. */
function patternReasons({ id, kind }: Fitting, { bolts }: WorkEntry): WeighedReason[] {
  if (bolts === null) return kind === 'sender-gasket' ? say('pattern-not-stated', { id }) : []
  const { count, passes, sequence } = bolts
  const pattern = `${id}: ${count} screws, ${passes} passes, ${sequence}`
  return passes < fewestPasses || sequence === 'around'
    ? say('pattern-uneven', { pattern, fewest: fewestPasses })
    : say('pattern-followed', { pattern })
}

function sealantReasons(id: string, { action, sealant, cureS }: WorkEntry, cured: bigint | null) {
  if (sealant === null || cureS === null)
    return action === 'reseal' || sealant !== null || cureS !== null ? say('cure-not-stated', { id }) : []
  if (cureS === 0 || cured === null) return say('no-cure', { id, sealant })
  const until = isoTime(cured).slice(0, 16).replace('T', ' ')
  return say('cures-until', { id, sealant, until })
}

function toolReasons({ torqueNm, tool, toolCalibrated: on, toolDue, timeNs }: WorkEntry): WeighedReason[] {
  if (torqueNm === null) return []
  if (tool === null) return say('tool-not-named')
  if (on === null) return say('tool-not-calibrated', { tool })
  const due = toolDue ?? afterMonths(on, calibrationMonths)
  const day = isoTime(timeNs).slice(0, 10)
  if (day < on) return say('tool-calibrated-later', { tool, on, day })
  if (day > due) return say('tool-overdue', { tool, due, day })
  return say('tool-in-calibration', { tool, on, due })
}

function afterMonths(date: string, months: number): string {
  const at = new Date(`${date}T00:00:00Z`)
  at.setUTCMonth(at.getUTCMonth() + months)
  return at.toISOString().slice(0, 10)
}

/** The work whose sealant still cures in any of the sections: no hold is allowed until then. */
export function stillCuring(
  work: readonly Pick<WorkResult, 'id' | 'section' | 'cured_time_ns'>[],
  sections: readonly string[],
  nowNs: bigint,
): { readonly id: string; readonly untilNs: bigint } | null {
  for (const { id, section, cured_time_ns } of work)
    if (cured_time_ns && sections.includes(section) && BigInt(cured_time_ns) > nowNs)
      return { id, untilNs: BigInt(cured_time_ns) }
  return null
}
