import { type Mark, type MarkKind, operatorMarks } from '#analysis/model/samples.ts'

const correctable: ReadonlySet<MarkKind> = new Set(operatorMarks)

/** What a person marks. What the program notes itself, such as a gap or a fault, stays. */
export const mayCorrect = ({ kind }: Mark): boolean => correctable.has(kind)

/** The marks that stand: without those that a later `kind=correction of="<ns>"` takes back. */
export function withoutCorrected(marks: readonly Mark[]): Mark[] {
  const takenBack = new Set(
    // A logger takes back nothing that a person marked.
    marks
      .filter(({ kind, from }) => kind === 'correction' && from !== 'logger')
      .map(({ fields }) => String(fields.of)),
  )
  if (takenBack.size === 0) return [...marks]
  return marks.filter((mark) => !(mayCorrect(mark) && takenBack.has(mark.timeNs)))
}
