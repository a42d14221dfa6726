/** A small change of a source that a good test notices. */
export interface Mutant {
  readonly line: number
  readonly what: string
  readonly text: string
  /** A word of a type: no program changes by it, and the compiler would refuse it. */
  readonly isType: boolean
}

const operators: readonly [RegExp, (found: string) => string, string][] = [
  [
    / (<=|>=|<|>) /g,
    (found) => ({ ' <= ': ' > ', ' >= ': ' < ', ' < ': ' >= ', ' > ': ' <= ' })[found]!,
    'comparison flipped',
  ],
  [/ (===|!==) /g, (found) => (found === ' === ' ? ' !== ' : ' === '), 'equality flipped'],
  [/ (&&|\|\|) /g, (found) => (found === ' && ' ? ' || ' : ' && '), 'and/or exchanged'],
  [/(?<![\w.'])\d+(\.\d+)?(e-?\d+)?(?![\w.'])/g, (found) => `(${found} * 2 + 1)`, 'constant changed'],
  [/\b(true|false)\b/g, (found) => (found === 'true' ? 'false' : 'true'), 'boolean negated'],
  [
    /'(pass|fail|undecided|void|broken)'/g,
    (found) => (found === "'pass'" ? "'void'" : "'pass'"),
    'word exchanged',
  ],
  [
    /^\s+(findings|voids|reasons|parts|out)\.push\([^\n]*\)$/gm,
    (found) => `${/^\s+/.exec(found)![0]};0`,
    'statement removed',
  ],
]

/** A union of words, as only types have: `'a' | 'b'`, not `'a' || 'b'`. */
const inUnion = /'\w+' \| /

/** Every mutant of a source; comments, imports and types are left alone. */
export function mutantsOf(source: string): Mutant[] {
  const found: Mutant[] = []
  for (const [pattern, change, what] of operators) {
    for (const match of source.matchAll(pattern)) {
      const lineBegin = source.lastIndexOf('\n', match.index) + 1
      const lineText = source.slice(lineBegin, source.indexOf('\n', match.index + 1))
      if (/^\s*(\/?\*|\/\/|import |export (interface|type)|readonly |type |\|)/.test(lineText)) continue
      const text =
        source.slice(0, match.index) + change(match[0]) + source.slice(match.index + match[0].length)
      const isType = what === 'word exchanged' && inUnion.test(lineText)
      found.push({ isType, line: source.slice(0, match.index + 1).split('\n').length, what, text })
    }
  }
  return found
}
