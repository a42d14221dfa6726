import type { Reason } from '#analysis/model/hold-result.ts'

/** What makes a hold, or one section of it, prove nothing, and what a reader should know beside the verdict. */
export interface Faults {
  /** The data prove nothing at all. */
  readonly voids: readonly Reason[]
  /** The data cannot prove that it is tight; a leak that shows all the same stays a leak. */
  readonly bars: readonly Reason[]
  readonly cautions: readonly Reason[]
}

export const noFaults: Faults = { voids: [], bars: [], cautions: [] }

export function allFaults(parts: readonly Faults[]): Faults {
  return {
    voids: parts.flatMap(({ voids }) => voids),
    bars: parts.flatMap(({ bars }) => bars),
    cautions: parts.flatMap(({ cautions }) => cautions),
  }
}

export const isVoid = (code: string, message: string): Faults => ({ ...noFaults, voids: [{ code, message }] })
export const bars = (code: string, message: string): Faults => ({ ...noFaults, bars: [{ code, message }] })
export const caution = (code: string, message: string): Faults => ({
  ...noFaults,
  cautions: [{ code, message }],
})
