import { stripVTControlCharacters } from 'node:util'
import pc from 'picocolors'

/** Colors of standard output: only on a terminal, whatever the environment says of CI or Windows. */
export const resultInk = pc.createColors(isColored(process.stdout))

/** Colors of standard error. */
export const messageInk = pc.createColors(isColored(process.stderr))

function isColored(stream: NodeJS.WriteStream): boolean {
  // hasColors() respects NO_COLOR and TERM=dumb; a pipe or a file has no such method.
  return stream.isTTY === true && stream.hasColors()
}

/** Control characters, and marks that change the writing direction: a terminal executes them. */
const obeyed = /[\p{Cc}\u200e\u200f\u202a-\u202e\u2066-\u2069]/gu

/** Text from a file or its name, safe for a terminal: control characters are shown as their codes. */
export function printable(text: string): string {
  return text.replaceAll(obeyed, (character) => `\\u${character.charCodeAt(0).toString(16).padStart(4, '0')}`)
}

const widest = 100
const narrowest = 50

/**
 * Wraps the lines of a result to the terminal and to a readable width. Continuation lines are indented
 * to their own column, so that a label's text stays beside the label.
 */
export function resultText(
  lines: readonly string[],
  columns: number = process.stdout.columns ?? widest,
): string {
  const width = Math.max(narrowest, Math.min(widest, columns))
  return `${lines.flatMap((line) => wrapped(line, width)).join('\n')}\n`
}

function wrapped(line: string, width: number): string[] {
  if (stripVTControlCharacters(line).length <= width) return [line]
  // A label of at most four words and two spaces, a bullet or a number; else the indent.
  const hang = /^ *(?:\S+(?: \S+){0,3} {2,}|[-\d]+\.? )?/.exec(line)?.[0].length ?? 0
  const indent = ' '.repeat(hang)
  const out: string[] = []
  let rest = line
  while (stripVTControlCharacters(rest).length > width) {
    const at = lastSpace(rest, width)
    if (at <= hang) break
    out.push(rest.slice(0, at))
    rest = indent + rest.slice(at + 1)
  }
  out.push(rest)
  return out
}

/** The last space within this many columns; color codes have no width. */
function lastSpace(line: string, width: number): number {
  let last = -1
  let column = 0
  for (let i = 0; i < line.length && column <= width; i++) {
    if (line[i] === '\x1b') {
      i = line.indexOf('m', i)
      continue
    }
    // A number keeps its percent sign.
    if (line[i] === ' ' && line[i + 1] !== '%') last = i
    column++
  }
  return last
}

/** Columns under their titles; all but the first aligned right, as numbers are, unless `left`. */
export function tableText(rows: readonly (readonly string[])[], left = false): string {
  const widths = (rows[0] ?? []).map((_, column) => Math.max(...rows.map((row) => row[column]?.length ?? 0)))
  return rows
    .map(
      (row) =>
        `  ${row.map((cell, i) => (left || i === 0 ? cell.padEnd(widths[i]!) : cell.padStart(widths[i]!))).join('  ')}`.trimEnd() +
        '\n',
    )
    .join('')
}

/** Output of a bar: standard error, or a replacement. */
export interface BarStream {
  readonly isTTY?: boolean
  readonly columns?: number
  write(text: string): unknown
}

/** Delay before a bar appears, and interval between updates, [ms]. */
const shownAfterMs = 500
const betweenMs = 100
const barColumns = 24

/**
 * A progress bar on standard error during long work; nothing where that is no terminal. The bar erases its line
 * when done, so that it leaves no trace among the results.
 */
export class ProgressBar {
  readonly #stream: BarStream
  readonly #nowMs: () => number
  readonly #beganMs: number
  #drawnMs = Number.NEGATIVE_INFINITY
  #isDrawn = false

  constructor(stream: BarStream = process.stderr, nowMs: () => number = () => performance.now()) {
    this.#stream = stream
    this.#nowMs = nowMs
    this.#beganMs = nowMs()
  }

  /** @param share completed fraction of the work, 0 to 1 */
  at(what: string, share: number): void {
    const nowMs = this.#nowMs()
    if (nowMs - this.#beganMs < shownAfterMs || nowMs - this.#drawnMs < betweenMs) return
    const full = Math.round(Math.min(1, Math.max(0, share)) * barColumns)
    const bar = '█'.repeat(full).padEnd(barColumns, '·')
    this.#draw(`${bar} ${String(Math.round(100 * share)).padStart(3)} %  ${what}`)
  }

  /** Work of unknown size: announced when it begins, if a bar is shown. */
  next(what: string): void {
    if (this.#isDrawn) this.#draw(`${what} …`)
  }

  end(): void {
    if (this.#isDrawn) this.#stream.write('\r\x1b[2K')
    this.#isDrawn = false
  }

  #draw(line: string): void {
    if (this.#stream.isTTY !== true) return
    this.#drawnMs = this.#nowMs()
    this.#isDrawn = true
    // A wrapped line could not be erased.
    this.#stream.write(`\r\x1b[2K${line.slice(0, (this.#stream.columns ?? 80) - 1)}`)
  }
}
