import { Instrumenter } from '@stryker-mutator/instrumenter'

/** A small change of a source that a good test notices. */
export interface Mutant {
  readonly file: string
  /** From 1. */
  readonly line: number
  readonly mutator: string
  readonly from: string
  readonly to: string
  /** The changed source. */
  readonly text: string
}

const quiet = { debug() {}, info() {}, warn() {}, isDebugEnabled: () => false }

/** The mutants that StrykerJS makes of a source, and each of its constants made 30 % larger and smaller. */
export async function mutantsOf(file: string, source: string): Promise<Mutant[]> {
  const instrumenter = new Instrumenter(quiet as never)
  const { mutants } = await instrumenter.instrument([{ name: file, mutate: true, content: source }], {
    plugins: null,
    ignorers: [],
    excludedMutations: [],
    noHeader: true,
  } as never)
  const begins = [0]
  for (const { index } of source.matchAll(/\n/g)) begins.push(index + 1)
  const made = mutants.map(({ mutatorName, replacement, location: { start, end } }) => ({
    mutator: mutatorName,
    from: begins[start.line] + start.column,
    until: begins[end.line] + end.column,
    to: replacement,
  }))
  return [...made, ...constantsOf(source)].map(({ mutator, from, until, to }) => ({
    file,
    line: source.slice(0, from).split('\n').length,
    mutator,
    from: source.slice(from, until),
    to,
    text: source.slice(0, from) + to + source.slice(until),
  }))
}

/** A number of its own, but no index and none of 0, 1 and 2, which count rather than tune. */
const constant = /(?<![\w.'"$[])(?:\d+\.\d+|\d[\d_]*)(?:e-?\d+)?(?![\w.'"n])/g

function constantsOf(source: string): { mutator: string; from: number; until: number; to: string }[] {
  return [...source.matchAll(constant)].flatMap(({ 0: text, index }) => {
    const line = source.slice(source.lastIndexOf('\n', index) + 1, index)
    const value = Number(text.replaceAll('_', ''))
    const isText = /^\s*(\/?\*|\/\/|import |readonly |type |\|)|\/\/|\/\*\*/.test(line)
    const isQuoted = [/'/g, /`/g].some((quote) => (line.match(quote) ?? []).length % 2 === 1)
    if (isText || isQuoted || [0, 1, 2].includes(value)) return []
    return [1.3, 0.7].map((factor) => {
      const changed = value * factor
      const whole = Number.isInteger(value) && value < 1e6
      const to = whole ? (factor > 1 ? Math.ceil(changed) : Math.floor(changed)) : changed
      return { mutator: 'Constant', from: index, until: index + text.length, to: String(to) }
    })
  })
}
