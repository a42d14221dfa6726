import type { Recording } from '#analysis/model/samples.ts'
import type { Check, System } from '#analysis/model/system.ts'

/** A check of the system file as it was made in one hold. */
export interface MadeCheck {
  readonly check: Check
  readonly openS: number
  /** Null: it stayed open until the vent. */
  readonly shutS: number | null
}

/** The checks of these sections that were opened between two moments, in the order of time, [s]. */
export function checksMade(
  recording: Recording,
  system: System,
  sections: readonly string[],
  fromS: number,
  untilS: number,
): MadeCheck[] {
  const made: MadeCheck[] = []
  for (const { kind, id, timeS, fields } of recording.marks) {
    if (kind !== 'check' || timeS <= fromS || timeS >= untilS) continue
    const check = system.checks?.find((one) => one.id === id)
    if (check === undefined || !sections.includes(check.section)) continue
    const last = made.findIndex((one) => one.check === check && one.shutS === null)
    if (fields.open === true && last < 0) made.push({ check, openS: timeS, shutS: null })
    else if (fields.open === false && last >= 0) made[last] = { ...made[last], shutS: timeS }
  }
  return made
}
