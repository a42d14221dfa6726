import type { HoldResult } from '#analysis/model/hold-result.ts'
import type { System } from '#analysis/model/system.ts'
import { utcMinute } from './page/figure-words.ts'
import type { RecordDraft } from './record.ts'

/** Tolerance for differences between clocks, [ms]. */
const sameMs = 60_000

/**
 * Signs of a wrong clock when a record was sealed, a sentence each: the previous record was sealed later, the
 * hold ended later, or an instrument in the system file was calibrated later.
 */
export function clockFaults(
  sealedAt: string,
  result: RecordDraft['result'],
  system: System | null,
  before: { readonly id: string; readonly sealed_at: string } | null,
): string[] {
  const sealedMs = Date.parse(sealedAt)
  const faults: string[] = []
  const late = (what: string, laterMs: number) => {
    if (laterMs - sealedMs > sameMs)
      faults.push(
        `sealed ${utcMinute(sealedAt)}, but ${what} ${utcMinute(new Date(laterMs).toISOString())}: the clock was wrong`,
      )
  }
  if (before !== null) late(`${before.id}, the previous record,`, Date.parse(before.sealed_at))
  const stages: unknown = (result as Partial<HoldResult>).stages ?? {}
  const ends = Object.values(stages as object).filter(
    (ns) => typeof ns === 'string' && /^\d{10,19}$/.test(ns),
  )
  if (ends.length > 0) late('its hold is of', Math.max(...ends.map((ns) => Number(BigInt(ns) / 1_000_000n))))
  const calibrated = (system?.channels ?? []).flatMap(
    ({ calibration }) => Date.parse(calibration?.date ?? '') || [],
  )
  if (calibrated.length > 0) late('an instrument was calibrated', Math.max(...calibrated) - 86_400_000)
  return faults
}
