import type { MarkMaker } from '#analysis/model/origin.ts'
import type { Mark, MarkKind } from '#analysis/model/samples.ts'
import type { LiveState } from '#dashboard/api.ts'
import { withoutCorrected } from '#ingest/recording/corrected-marks.ts'

/** Marks told to the page; the recording keeps them all. */
const shownAtMost = 200
/** Marks kept for looks at the running hold. */
const keptAtMost = 5000

/** The marks of the running session, as the page and the looks at a hold need them. */
export class SessionMarks {
  #marks: Mark[] = []

  add(mark: Mark): void {
    this.#marks.push(mark)
    if (this.#marks.length > keptAtMost) this.#marks = this.#marks.slice(-keptAtMost / 2)
  }

  /** The marks that stand from a time on, with the corrections among them. */
  since(timeS: number): Mark[] {
    return withoutCorrected(this.#marks).filter((mark) => mark.timeS >= timeS)
  }

  /** The mark of that moment, epoch nanoseconds; a correction finds its mark by it. */
  at(timeNs: string): Mark | undefined {
    return withoutCorrected(this.#marks).findLast(
      (mark) => mark.timeNs === timeNs && mark.kind !== 'correction',
    )
  }

  /** This moment or the next one that no mark has: two marks must not share the time that names them. */
  unusedNs(timeNs: bigint): bigint {
    const used = new Set(this.#marks.map((mark) => mark.timeNs))
    let free = timeNs
    while (used.has(String(free))) free += 1n
    return free
  }

  shown(): LiveState['marks'] {
    const stand = withoutCorrected(this.#marks).filter(({ kind }) => kind !== 'correction')
    return stand.slice(-shownAtMost).map((mark) => ({
      ns: mark.timeNs,
      timeS: mark.timeS,
      kind: mark.kind,
      id: mark.id,
      text: textOf(mark),
    }))
  }
}

/** The controller's note of what was checked before the pump-up begins with it. */
export const sheetPrefix = 'checked: '

export interface NewSessionMark {
  readonly kind: MarkKind
  readonly id?: string
  readonly hold?: string
  /** Absent for the program's own marks. */
  readonly from?: MarkMaker
  readonly fields: Readonly<Record<string, string | number | boolean>>
}

/** Faults as a word beside their line on the chart: what the mark says in whole stands in the recording. */
const faultWords: Readonly<Record<string, string>> = {
  unplugged: 'logger unplugged',
  silent: 'logger silent',
  'open-failed': 'logger gone',
  'logger-reset': 'logger restarted',
  interrupted: 'broken off',
  'pressure-lost': 'pressure lost',
}

/** What a mark says in a few words. */
export function textOf({ kind, fields }: Mark): string {
  const { name, text, finding, action, open, code, seconds } = fields
  if (kind === 'fault' && typeof code === 'string') return faultWords[code] ?? code.replaceAll('-', ' ')
  if (kind === 'gap' && typeof seconds === 'number')
    return `nothing for ${seconds < 10 ? seconds.toFixed(1) : Math.round(seconds)} s`
  if (kind === 'clock') return 'clock wrong'
  if (kind === 'note' && typeof text === 'string' && text.startsWith(sheetPrefix)) return 'state sheet'
  if (typeof text === 'string') return text
  if (kind === 'place') return `on ${fields.section}`
  if (kind === 'supply') return name === 'off' ? 'supply off' : `supply ${name}`
  if (typeof name === 'string') return name
  if (typeof finding === 'string') return finding
  if (typeof action === 'string')
    return typeof fields.torque_Nm === 'number' ? `${action}, ${fields.torque_Nm} N·m` : action
  if ((kind === 'valve' || kind === 'check') && typeof open === 'boolean') return open ? 'opened' : 'shut'
  return Object.entries(fields)
    .map(([key, value]) => `${key} ${value}`)
    .join(', ')
}
