import { type Mark, type MarkKind, operatorMarks } from '#analysis/model/samples.ts'

const correctable: ReadonlySet<MarkKind> = new Set(operatorMarks)

/** Marks that a person makes. Marks by the program, such as a gap or a fault, cannot be withdrawn. */
export const mayCorrect = ({ kind }: Mark): boolean => correctable.has(kind)

/** The valid marks: without those that a later `kind=correction of="<ns>"` withdraws. */
export function withoutCorrected(marks: readonly Mark[]): Mark[] {
  const takenBack = new Set(
    // A logger cannot withdraw a person's mark.
    marks
      .filter(({ kind, from }) => kind === 'correction' && from !== 'logger')
      .map(({ fields }) => String(fields.of)),
  )
  return marks.filter((mark) => !(mayCorrect(mark) && takenBack.has(mark.timeNs)))
}
