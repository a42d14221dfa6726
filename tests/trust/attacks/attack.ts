/** One way to dress up evidence, or to stop a bench, tried again and again. */
export interface Attack {
  /** As it stands in the table of docs/reliability.md. */
  readonly name: string
  /** @param quick a few tries, as the tests make; otherwise as many as the table states */
  run(quick: boolean): Promise<Tries>
}

export interface Tries {
  readonly tried: number
  /** What went wrong, a line each; empty when every try was refused as it must be. */
  readonly wrong: readonly string[]
}

/** Counts the tries of one attack. */
export class Tally implements Tries {
  tried = 0
  readonly wrong: string[] = []

  /** One try; `fault` says what was wrong with the outcome, null or empty when nothing was. */
  take(what: string, fault: string | null): void {
    this.tried++
    if (fault) this.wrong.push(`${what}: ${fault}`)
  }
}
