/** A file from the user cannot be used. The message is one line: file, line, cause. */
export class UnreadableFile extends Error {
  override readonly name = 'UnreadableFile'

  constructor(
    readonly file: string,
    /** First line that is wrong, from 1; null when the whole file is. */
    readonly line: number | null,
    readonly problem: string,
  ) {
    super(line === null ? `${file}: ${problem}` : `${file}, line ${line}: ${problem}`)
  }
}
