import type { Mark } from '#analysis/model/samples.ts'

/** Marked times of one run through the stages, [s]; null where a stage has no mark. */
export interface MarkedCycle {
  /** Hold id; null when no mark of it names one. */
  hold: string | null
  pumpUpS: number | null
  settleS: number | null
  holdS: number | null
  ventS: number | null
  endS: number | null
}

const keyOf: Readonly<Record<string, keyof Omit<MarkedCycle, 'hold'>>> = {
  'pump-up': 'pumpUpS',
  settle: 'settleS',
  hold: 'holdS',
  vent: 'ventS',
  end: 'endS',
}

/**
 * Sorts stage marks into runs, separately for each hold of the file: two sections may be held simultaneously.
 *
 * A stage marked again before the vent restarts: the last mark counts, and marks of later stages are discarded. A pump-up
 * in a running hold, or any mark but an end after the vent, begins another run.
 */
export function cyclesOfMarks(marks: readonly Mark[]): MarkedCycle[] {
  const cycles: MarkedCycle[] = []
  const open = new Map<string, MarkedCycle>()
  let lastHold: string | null = null
  for (const mark of marks) {
    const key = keyOf[String(mark.fields.name)]
    if (mark.kind !== 'stage' || key === undefined) continue
    // A mark without a hold id belongs to the hold of the previous mark.
    const hold: string | null = mark.hold ?? lastHold
    lastHold = hold
    let cycle = open.get(hold ?? '') ?? (hold === null ? undefined : adopted(open, hold))
    if (cycle === undefined || beginsAnother(cycle, key)) {
      // Ignore an end without a run.
      if (key === 'endS') continue
      cycle = { hold, pumpUpS: null, settleS: null, holdS: null, ventS: null, endS: null }
      cycles.push(cycle)
      open.set(hold ?? '', cycle)
    }
    if (key === 'pumpUpS') {
      // A second pump-up before the hold: the run still begins with the first one.
      cycle.pumpUpS ??= mark.timeS
      cycle.settleS = null
    } else if (key === 'settleS') {
      cycle.settleS = mark.timeS
      cycle.holdS = null
    } else cycle[key] = mark.timeS
    if (key === 'endS') open.delete(hold ?? '')
  }
  // A vent alone (of pressure from an earlier test) is no hold.
  return cycles
    .filter((c) => c.pumpUpS !== null || c.settleS !== null || c.holdS !== null)
    .sort((a, b) => firstMarkS(a) - firstMarkS(b))
}

/** Assigns a hold id to the open run without one. */
function adopted(open: Map<string, MarkedCycle>, hold: string): MarkedCycle | undefined {
  const unnamed = open.get('')
  if (unnamed === undefined || unnamed.ventS !== null) return undefined
  unnamed.hold = hold
  open.delete('')
  open.set(hold, unnamed)
  return unnamed
}

function beginsAnother(cycle: MarkedCycle, key: keyof MarkedCycle): boolean {
  if (key === 'endS') return false
  if (key === 'ventS') return cycle.ventS !== null
  return cycle.ventS !== null || (key === 'pumpUpS' && cycle.holdS !== null)
}

export function firstMarkS({ pumpUpS, settleS, holdS, ventS }: MarkedCycle): number {
  return pumpUpS ?? settleS ?? holdS ?? ventS ?? 0
}
