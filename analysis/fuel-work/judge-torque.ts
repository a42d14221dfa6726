import {
  rangeWords,
  screwLimitNm,
  type Threads,
  type TorqueRange,
  torqueRange,
  torqueWords,
} from '#analysis/hunt/torque-tables.ts'
import type { Verdict, WordedReason } from '#analysis/model/hold-result.ts'
import type { Fitting } from '#analysis/model/system.ts'
import { publishedReasons, type WeighedReason, worstVerdict } from './worst-verdict.ts'

export interface WorkEntry {
  readonly action: 'retighten' | 'remake' | 'reseal' | 'replace'
  /** Set torque, [N·m], and half width of the tool's tolerance; null where it was not torqued. */
  readonly torqueNm: number | null
  readonly toleranceNm: number | null
  /** The torque as the wrench read it, in its own unit. */
  readonly torqueAsRead: string | null
  /** Torque that turned a self-locking nut before it seated, [N·m]: the wrench reads it on top. */
  readonly runOnNm: number | null
  readonly threads: Threads | null
  /** The maker's range, [N·m]; null: that of the file or the published table. */
  readonly makerRangeNm: readonly [low: number, high: number] | null
  readonly makerSource: string | null
  /** The maker's words where a joint is set without a wrench, such as a turn past finger tight. */
  readonly turn: string | null
  /** Screws of a flange or cap ring: how many, in how many passes, in which order. */
  readonly bolts: { readonly count: number; readonly passes: number; readonly sequence: string } | null
  readonly sealant: string | null
  /** Time the sealant cures before it may be pressed, [s]; 0 for one that does not cure. */
  readonly cureS: number | null
  readonly tool: string | null
  /** ISO dates of its calibration and when the next is due; null when not known. */
  readonly toolCalibrated: string | null
  readonly toolDue: string | null
  readonly by: string
  readonly timeNs: string
  /** A witness mark (torque seal) runs across nut and body. */
  readonly witnessMark: boolean
}

/** Result of one line of the work sheet, sealed as a record of kind `work`; ledger and hunt read `id` and `action`. */
export interface WorkResult {
  readonly stillhold: 1
  readonly id: string
  readonly section: string
  readonly time_ns: string
  readonly action: WorkEntry['action']
  readonly verdict: Verdict
  readonly reasons: readonly WordedReason[]
  readonly torque_Nm: number | null
  readonly torque_tolerance_Nm: number | null
  readonly torque_as_read: string | null
  readonly run_on_Nm: number | null
  readonly threads: Threads | null
  readonly range_low_Nm: number | null
  readonly range_high_Nm: number | null
  readonly range_source: string | null
  readonly turn: string | null
  readonly bolts: WorkEntry['bolts']
  readonly sealant: string | null
  /** No hold before this time; null where nothing cures. */
  readonly cured_time_ns: string | null
  readonly tool: string | null
  readonly tool_calibrated: string | null
  readonly tool_due: string | null
  readonly by: string
  readonly witness_mark: boolean
}

/**
 * Months for which a torque wrench is taken as calibrated when no due date is stated.
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

/** Judges one line of the work sheet: the torque lies in its range with the tool's whole tolerance, or it is open. */
export function judgeTorque(fitting: Fitting, entry: WorkEntry): WorkResult {
  const range = rangeFor(fitting, entry.makerRangeNm, entry.makerSource)
  const cured =
    entry.cureS === null ? null : BigInt(entry.timeNs) + BigInt(Math.round(entry.cureS)) * 1_000_000_000n
  const reasons: WeighedReason[] = [
    ...torqueReasons(fitting, entry, range),
    ...patternReasons(fitting, entry),
    ...sealantReasons(fitting, entry, cured),
    ...toolReasons(entry),
  ]
  if (!entry.witnessMark)
    reasons.push(
      open(
        'no-witness-mark',
        `${fitting.id} carries no witness mark across nut and body: nobody can see whether it moves.`,
      ),
    )
  reasons.push(
    told('hold-again', `${fitting.id} was disturbed: its earlier proof no longer counts. Hold it again.`),
  )
  return {
    stillhold: 1,
    id: fitting.id,
    section: fitting.section,
    time_ns: entry.timeNs,
    action: entry.action,
    verdict: worstVerdict(reasons),
    reasons: publishedReasons(reasons),
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
    cured_time_ns: cured === null || entry.cureS === 0 ? null : String(cured),
    tool: entry.tool,
    tool_calibrated: entry.toolCalibrated,
    tool_due: entry.toolDue,
    by: entry.by,
    witness_mark: entry.witnessMark,
  }
}

const told = (code: string, message: string): WeighedReason => ({ weight: null, code, message })
const open = (code: string, message: string): WeighedReason => ({ weight: 'undecided', code, message })
const fails = (code: string, message: string): WeighedReason => ({ weight: 'fail', code, message })

function torqueReasons(fitting: Fitting, entry: WorkEntry, range: TorqueRange | null): WeighedReason[] {
  const { id } = fitting
  if (entry.torqueNm === null) {
    if (entry.turn !== null)
      return [
        entry.makerSource === null
          ? open('turn-without-source', `${id}: set without a wrench (${entry.turn}); name the maker’s page.`)
          : told('set-by-turn', `${id}: set without a wrench: ${entry.turn} (${entry.makerSource}).`),
      ]
    return [
      open('torque-not-entered', `${id}: no torque was entered${range ? `; ${rangeWords(range)}` : ''}.`),
    ]
  }
  const runOn = entry.runOnNm ?? 0
  const half = entry.toleranceNm ?? 0
  const set = entry.torqueNm - runOn
  const limit = screwLimitNm(fitting)
  if (limit !== null && set - half > limit)
    return [
      fails(
        'screw-overloaded',
        `${id}: ${torqueWords(set)} on a screw ${fitting.size} that bears ${torqueWords(limit)} (AC 43.13-1B table 7-1): replace it.`,
      ),
    ]
  if (range === null)
    return [
      open(
        'no-range',
        `${id}: no published range for a ${fitting.kind}${fitting.size ? ` ${fitting.size}` : ''}${fitting.kind === 'flare' && !fitting.material ? ' on a tube of unstated metal' : ''}: enter the maker’s.`,
      ),
    ]
  const said = `${id}: set to ${torqueWords(entry.torqueNm)}${half > 0 ? ` ± ${half.toFixed(1)} N·m` : ''}${runOn > 0 ? `, ${torqueWords(runOn)} of it run-on torque` : ''}; range ${rangeWords(range)}`
  // The table is in whole inch-pounds: a thousandth on top is rounding.
  const slack = 1e-3 * range.highNm
  if (set - half > range.highNm + slack)
    return [
      fails('torque-too-high', `${said}: too tight. Take it apart and inspect its seat before it is used.`),
    ]
  if (set + half < range.lowNm - slack) return [fails('torque-too-low', `${said}: too loose.`)]
  const reasons: WeighedReason[] = []
  if (set + half > range.highNm + slack || set - half < range.lowNm - slack)
    reasons.push(open('torque-near-limit', `${said}: with the tool’s tolerance it may lie outside.`))
  else reasons.push(told('torque-in-range', `${said}.`))
  if (!range.read)
    reasons.push(
      open('range-from-memory', `${id}: that range is from memory and only guides: enter the maker’s.`),
    )
  if (range.threads !== null && entry.threads !== range.threads)
    reasons.push(
      open(
        'threads-not-as-table',
        `${id}: the range is for ${range.threads} threads; these were ${entry.threads ?? 'not stated'}.`,
      ),
    )
  return reasons
}

/** The screws of a flange are tightened crosswise and in passes, or the gasket is squeezed on one side. */
function patternReasons({ id, kind }: Fitting, { bolts }: WorkEntry): WeighedReason[] {
  if (bolts === null)
    return kind === 'sender-gasket'
      ? [
          open(
            'pattern-not-stated',
            `${id}: state the screws, the passes and the sequence in which the flange was tightened.`,
          ),
        ]
      : []
  const { count, passes, sequence } = bolts
  const words = `${id}: ${count} screws, ${passes} passes, ${sequence}`
  return [
    passes < fewestPasses || sequence === 'around'
      ? open('pattern-uneven', `${words}: tighten crosswise, in ${fewestPasses} passes at least.`)
      : told('pattern-followed', `${words}.`),
  ]
}

function sealantReasons(
  { id }: Fitting,
  { action, sealant, cureS }: WorkEntry,
  cured: bigint | null,
): WeighedReason[] {
  if (sealant === null || cureS === null)
    return action === 'reseal' || sealant !== null || cureS !== null
      ? [
          open(
            'cure-not-stated',
            `${id}: name the sealant and its cure time; 0 h for one that does not cure.`,
          ),
        ]
      : []
  if (cureS === 0 || cured === null) return [told('no-cure', `${id}: ${sealant}; it does not cure.`)]
  const until = new Date(Number(cured / 1_000_000n)).toISOString().slice(0, 16).replace('T', ' ')
  return [told('cures-until', `${id}: ${sealant} cures until ${until} UTC: no hold before.`)]
}

function toolReasons({ torqueNm, tool, toolCalibrated, toolDue, timeNs }: WorkEntry): WeighedReason[] {
  if (torqueNm === null) return []
  if (tool === null) return [open('tool-not-named', 'The torque wrench is not named.')]
  if (toolCalibrated === null) return [open('tool-not-calibrated', `${tool}: no date of calibration.`)]
  const due = toolDue ?? afterMonths(toolCalibrated, calibrationMonths)
  const day = new Date(Number(BigInt(timeNs) / 1_000_000n)).toISOString().slice(0, 10)
  if (day < toolCalibrated)
    return [
      open('tool-calibrated-later', `${tool}: calibrated on ${toolCalibrated}, after the work of ${day}.`),
    ]
  if (day > due)
    return [open('tool-overdue', `${tool}: its calibration was due on ${due}, before the work of ${day}.`)]
  return [told('tool-in-calibration', `${tool}: calibrated ${toolCalibrated}, good until ${due}.`)]
}

function afterMonths(date: string, months: number): string {
  const at = new Date(`${date}T00:00:00Z`)
  at.setUTCMonth(at.getUTCMonth() + months)
  return at.toISOString().slice(0, 10)
}

/** The work whose sealant still cures in any of the sections: it bars a hold until then. */
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
