import type { IntakeMark, IntakeSink } from '#ingest/intake/sink.ts'

/** A sink that keeps all its input as text. */
export class Heard implements IntakeSink {
  readonly points: string[] = []
  readonly rejects: string[] = []
  readonly comments: string[] = []
  readonly marks: IntakeMark[] = []

  point(_point: unknown, line: string): void {
    this.points.push(line)
  }
  reject(reason: string, bytes: Uint8Array): void {
    this.rejects.push(`${reason}: ${Buffer.from(bytes).toString('latin1')}`)
  }
  comment(text: string): void {
    this.comments.push(text)
  }
  mark(mark: IntakeMark): void {
    this.marks.push(mark)
  }

  /** Codes of the fault marks, in order. */
  get faults(): string[] {
    return this.marks.filter(({ kind }) => kind === 'fault').map(({ fields }) => String(fields['code']))
  }
}
