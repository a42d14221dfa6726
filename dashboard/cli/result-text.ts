import { stripVTControlCharacters } from 'node:util'

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
  // A label of at most two words and two spaces, a bullet or a number; else the indent.
  const hang = /^ *(?:\S+(?: \S+)? {2,}|[-\d]+\.? )?/.exec(line)?.[0].length ?? 0
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
