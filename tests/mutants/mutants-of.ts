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
  /** The place that the marked source sets in `globalThis.reachedPlaces` when it runs. */
  readonly place: number
}

export interface Mutants {
  readonly mutants: Mutant[]
  /** The source of each file as it is, with a mark set wherever one of the mutants would act. */
  readonly marked: ReadonlyMap<string, string>
}

const quiet = { debug() {}, info() {}, warn() {}, isDebugEnabled: () => false }
const options = { plugins: null, ignorers: [], excludedMutations: [], noHeader: true }

/** The mutants that StrykerJS makes of sources, and each of their constants made 30 % larger and smaller. */
export async function mutantsOf(sources: ReadonlyMap<string, string>): Promise<Mutants> {
  const mutants: Mutant[] = []
  const marked = new Map<string, string>()
  let places = 0
  for (const [file, source] of sources) {
    const instrumenter = new Instrumenter(quiet as never)
    const instrument = (content: string) =>
      instrumenter.instrument([{ name: file, mutate: true, content }], options as never)
    const constants = constantsOf(source)
    const atConstants = places
    const atOthers = atConstants + constants.length
    const { mutants: others } = await instrument(source)
    const withMarks = await instrument(marksAt(source, constants, atConstants))
    marked.set(file, withoutSwitches(withMarks.files[0].content, atOthers))
    places = atOthers + others.length

    const begins = [0]
    for (const { index } of source.matchAll(/\n/g)) begins.push(index + 1)
    const add = (mutator: string, from: number, until: number, to: string, place: number): void => {
      mutants.push({
        file,
        line: source.slice(0, from).split('\n').length,
        mutator,
        from: source.slice(from, until),
        to,
        text: source.slice(0, from) + to + source.slice(until),
        place,
      })
    }
    for (const [n, { mutatorName, replacement, location }] of others.entries()) {
      const at = ({ line, column }: { line: number; column: number }): number => begins[line] + column
      add(mutatorName, at(location.start), at(location.end), replacement, atOthers + n)
    }
    for (const [n, { from, until, changed }] of constants.entries())
      for (const to of changed) add('Constant', from, until, to, atConstants + n)
  }
  return { mutants, marked }
}

interface Constant {
  readonly from: number
  readonly until: number
  readonly changed: readonly string[]
}

/** A number of its own, but no index and none of 0, 1 and 2, which count rather than tune. */
const constant = /(?<![\w.'"$[]|\de-)(?:\d+\.\d+|\d[\d_]*)(?:e-?\d+)?(?![\w.'"n])/g

/** The line up to a number that stands in a regular expression. */
const inRegex =
  /(?:^|[=(,:!&|?[>]|\breturn)\s*\/(?![/*])(?:[^/\\[]|\\.|\[(?:[^\]\\]|\\.)*\])*(?:\[(?:[^\]\\]|\\.)*)?$/

function constantsOf(source: string): Constant[] {
  return [...source.matchAll(constant)].flatMap(({ 0: text, index }) => {
    const line = source.slice(source.lastIndexOf('\n', index) + 1, index)
    const value = Number(text.replaceAll('_', ''))
    const isText = /^\s*(\/?\*|\/\/|import |readonly |type |\|)|\/\/|\/\*\*/.test(line)
    const isQuoted = [/'/g, /`/g].some((quote) => (line.match(quote) ?? []).length % 2 === 1)
    const isType = /\|\s*$/.test(line) || /^\s*\|(?!\|)/.test(source.slice(index + text.length))
    const isKey = /(?:^|[{,])\s*$/.test(line) && source[index + text.length] === ':'
    if (isText || isQuoted || isType || isKey || inRegex.test(line) || [0, 1, 2].includes(value)) return []
    const changed = [1.3, 0.7].map((factor) => {
      const whole = Number.isInteger(value) && value < 1e6
      return String(whole ? (factor > 1 ? Math.ceil : Math.floor)(value * factor) : value * factor)
    })
    return [{ from: index, until: index + text.length, changed }]
  })
}

function marksAt(source: string, constants: readonly Constant[], firstPlace: number): string {
  let text = ''
  let done = 0
  for (const [n, { from, until }] of constants.entries()) {
    text += `${source.slice(done, from)}(reachedPlaces[${firstPlace + n}] = 1, ${source.slice(from, until)})`
    done = until
  }
  return text + source.slice(done)
}

/** Worker threads set the marks of the test that started them. */
const sharedMarks = `import { getEnvironmentData as marksOfTest } from 'node:worker_threads'
globalThis.reachedPlaces ??= new Uint8Array(marksOfTest('reachedPlaces'))`

/** An instrumented source that runs as the original does: each count of StrykerJS becomes a mark, each switch is off. */
function withoutSwitches(instrumented: string, firstPlace: number): string {
  const marked = instrumented
    .replaceAll(/stryMutAct_9fa48\("\d+"\)/g, 'false')
    .replaceAll(/stryCov_9fa48\(([^)]*)\)/g, (_, ids: string) => {
      const marks = [...ids.matchAll(/\d+/g)].map(([id]) => `reachedPlaces[${firstPlace + Number(id)}] = `)
      return `(${marks.join('')}1)`
    })
  return `${sharedMarks}\n${marked}`
}
