import { torqueRange } from '#analysis/hunt/fitting-kinds.ts'
import type { Verdict, WordedReason } from '#analysis/model/hold-result.ts'
import type { Fitting } from '#analysis/model/system.ts'
import { publishedReasons, type WeighedReason, worstVerdict } from './worst-verdict.ts'

export interface WorkEntry {
  readonly action: 'retighten' | 'remake' | 'reseal' | 'replace'
  /** Set torque, [N·m], and half width of the tool's tolerance; null where it was not torqued. */
  readonly torqueNm: number | null
  readonly toleranceNm: number | null
  /** The maker's range, [N·m]; null: that of the file or the published table. */
  readonly makerRangeNm: readonly [low: number, high: number] | null
  readonly makerSource: string | null
  readonly tool: string | null
  /** ISO dates of its calibration and when the next is due; null when not known. */
  readonly toolCalibrated: string | null
  readonly toolDue: string | null
  readonly by: string
  readonly timeNs: string
  readonly stripe: boolean
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
  readonly range_low_Nm: number | null
  readonly range_high_Nm: number | null
  readonly range_source: string | null
  readonly tool: string | null
  readonly tool_calibrated: string | null
  readonly tool_due: string | null
  readonly by: string
  readonly stripe: boolean
}

/** Months for which a torque wrench is taken as calibrated when no due date is stated: common practice. */
const calibrationMonths = 12

/**
 * Range for a fitting: the maker's, then that of the system file, then the published table.
 *
 * Source: TM 55-1520-240-23-1 through `torqueRange`
 * *Check*: −6 aluminium 100–125 in·lb is 11.298–14.123 N·m
 */
export function rangeFor(
  fitting: Fitting,
  maker: WorkEntry['makerRangeNm'],
  makerSource: string | null,
): { readonly lowNm: number; readonly highNm: number; readonly source: string } | null {
  if (maker) return { lowNm: maker[0], highNm: maker[1], source: makerSource ?? 'maker, source not named' }
  return torqueRange(fitting)
}

/** Judges one line of the work sheet: the torque lies in its range with the tool's whole tolerance, or it is open. */
export function judgeTorque(fitting: Fitting, entry: WorkEntry): WorkResult {
  const range = rangeFor(fitting, entry.makerRangeNm, entry.makerSource)
  const reasons: WeighedReason[] = [...torqueReasons(fitting, entry, range), ...toolReasons(entry)]
  const say = (weight: Verdict | null, code: string, message: string) =>
    reasons.push({ weight, code, message })
  if (!entry.stripe)
    say(
      'undecided',
      'no-stripe',
      `${fitting.id} carries no stripe across nut and body: nobody can see whether it moves.`,
    )
  say(
    null,
    'hold-again',
    `${fitting.id} was worked on: what proved it before no longer counts, hold it again.`,
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
    range_low_Nm: range?.lowNm ?? null,
    range_high_Nm: range?.highNm ?? null,
    range_source: range?.source ?? null,
    tool: entry.tool,
    tool_calibrated: entry.toolCalibrated,
    tool_due: entry.toolDue,
    by: entry.by,
    stripe: entry.stripe,
  }
}

function torqueReasons(
  fitting: Fitting,
  { torqueNm, toleranceNm }: WorkEntry,
  range: ReturnType<typeof rangeFor>,
): WeighedReason[] {
  if (torqueNm === null)
    return range === null
      ? [
          {
            weight: null,
            code: 'not-torqued',
            message: `${fitting.id}: no torque was set, and no range is known.`,
          },
        ]
      : [
          {
            weight: 'undecided',
            code: 'torque-not-entered',
            message: `${fitting.id}: ${rangeWords(range)}, but no torque was entered.`,
          },
        ]
  if (range === null)
    return [
      {
        weight: 'undecided',
        code: 'no-range',
        message: `${fitting.id}: no published range for a ${fitting.kind}${fitting.size ? ` ${fitting.size}` : ''}${fitting.material ? '' : ' of unstated material'}: enter the maker’s.`,
      },
    ]
  const half = toleranceNm ?? 0
  const said = `${fitting.id}: set to ${torqueNm.toFixed(1)}${half > 0 ? ` ± ${half.toFixed(1)}` : ''} N·m, ${rangeWords(range)}`
  // The table is in whole inch-pounds: a thousandth on top is rounding.
  const slack = 1e-3 * range.highNm
  if (torqueNm - half > range.highNm + slack)
    return [
      {
        weight: 'fail',
        code: 'torque-too-high',
        message: `${said}: too tight. Take it apart and look at the flare before it is used.`,
      },
    ]
  if (torqueNm + half < range.lowNm - slack)
    return [{ weight: 'fail', code: 'torque-too-low', message: `${said}: too loose.` }]
  if (torqueNm + half > range.highNm + slack || torqueNm - half < range.lowNm - slack)
    return [
      {
        weight: 'undecided',
        code: 'torque-near-limit',
        message: `${said}: with the tool’s tolerance it may lie outside.`,
      },
    ]
  return [{ weight: null, code: 'torque-in-range', message: `${said}.` }]
}

function toolReasons({ torqueNm, tool, toolCalibrated, toolDue, timeNs }: WorkEntry): WeighedReason[] {
  if (torqueNm === null) return []
  if (tool === null)
    return [{ weight: 'undecided', code: 'tool-not-named', message: 'The torque wrench is not named.' }]
  if (toolCalibrated === null)
    return [{ weight: 'undecided', code: 'tool-not-calibrated', message: `${tool}: no date of calibration.` }]
  const due = toolDue ?? afterMonths(toolCalibrated, calibrationMonths)
  const day = new Date(Number(BigInt(timeNs) / 1_000_000n)).toISOString().slice(0, 10)
  if (day < toolCalibrated)
    return [
      {
        weight: 'undecided',
        code: 'tool-calibrated-later',
        message: `${tool}: calibrated on ${toolCalibrated}, after the work of ${day}.`,
      },
    ]
  if (day > due)
    return [
      {
        weight: 'undecided',
        code: 'tool-overdue',
        message: `${tool}: its calibration was due on ${due}, before the work of ${day}.`,
      },
    ]
  return [
    {
      weight: null,
      code: 'tool-in-calibration',
      message: `${tool}: calibrated ${toolCalibrated}, good until ${due}.`,
    },
  ]
}

function afterMonths(date: string, months: number): string {
  const at = new Date(`${date}T00:00:00Z`)
  at.setUTCMonth(at.getUTCMonth() + months)
  return at.toISOString().slice(0, 10)
}

function rangeWords(range: {
  readonly lowNm: number
  readonly highNm: number
  readonly source: string
}): string {
  return `range ${range.lowNm.toFixed(1)} to ${range.highNm.toFixed(1)} N·m (${range.source})`
}
