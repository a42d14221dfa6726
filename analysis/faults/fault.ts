import type { Reason } from '#analysis/model/hold-result.ts'
import { reason } from '#analysis/reasons/phrase.ts'
import type { ReasonCode, ValuesOf } from '#analysis/reasons/phrases.ts'

/** Faults that void a hold or one of its sections or block its pass, and cautions for the reader. */
export interface Faults {
  /** The data prove nothing at all. */
  readonly voids: readonly Reason[]
  /** The data cannot prove tightness; a leak that they show still counts. */
  readonly blocking: readonly Reason[]
  readonly cautions: readonly Reason[]
}

export const noFaults: Faults = { voids: [], blocking: [], cautions: [] }

export function allFaults(parts: readonly Faults[]): Faults {
  return {
    voids: parts.flatMap(({ voids }) => voids),
    blocking: parts.flatMap(({ blocking }) => blocking),
    cautions: parts.flatMap(({ cautions }) => cautions),
  }
}

/** The data prove nothing. */
export function voidHold<C extends ReasonCode>(code: C, values: ValuesOf<C>): Faults {
  return { ...noFaults, voids: [reason(code, values)] }
}

/** The data cannot prove tightness. */
export function blocksPass<C extends ReasonCode>(code: C, values: ValuesOf<C>): Faults {
  return { ...noFaults, blocking: [reason(code, values)] }
}

/** A warning shown with the verdict. */
export function caution<C extends ReasonCode>(code: C, values: ValuesOf<C>): Faults {
  return { ...noFaults, cautions: [reason(code, values)] }
}
