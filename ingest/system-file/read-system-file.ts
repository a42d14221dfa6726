import {
  Composer,
  type CST,
  type Document,
  isAlias,
  isMap,
  isNode,
  isScalar,
  LineCounter,
  type Node,
  Parser,
  visit,
} from 'yaml'
import { type FittingKind, fittingKinds, type Priors, type System } from '#analysis/model/system.ts'
import { defaultSccReferenceK, molPerSOfStandard } from '#analysis/physics/standard-flow.ts'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'
import { atEachPlace, channel, readChannel } from './channels.ts'
import { checkReferences, type Placed } from './check-references.ts'
import {
  type Entry,
  type JsonSchema,
  listOf,
  type Mapping,
  mapping,
  must,
  nested,
  type Opened,
  quantity,
  text,
} from './description.ts'
import { FileView, type SystemFileError, topName } from './file-view.ts'
import {
  check,
  fitting,
  hold,
  readCheck,
  readFitting,
  readHold,
  readSection,
  readValve,
  section,
  valve,
} from './parts.ts'

export type { SystemFileError } from './file-view.ts'

export interface SystemFileReading {
  /** Null when there is any error. */
  readonly system: System | null
  readonly errors: readonly SystemFileError[]
}

const aircraft = mapping({ registration: text('as in its papers'), serial: text('as in its papers') })

const share = quantity('share that leaks, such as 8 %', 'ratio')
const priors = mapping({
  source: must(text('where the shares come from')),
  ...(Object.fromEntries(fittingKinds.map((kind) => [kind, share])) as Record<FittingKind, typeof share>),
})

const top = mapping({
  stillhold: must({ ...text(''), schema: { const: 1, description: 'version of the format' } }),
  name: must(text('name of the system')),
  'scc-reference': quantity(
    'temperature of a standard cubic centimetre, such as 20 degC; 0 degC when absent',
    'temperature',
  ),
  channels: listOf('channel', channel),
  sections: must(listOf('section', section)),
  fittings: listOf('fitting', fitting),
  valves: listOf('valve', valve),
  holds: listOf('hold', hold),
  checks: listOf('check', check),
  aircraft: nested(aircraft),
  priors: nested(priors),
})

/**
 * JSON Schema of a system file, for editors that complete and check, from the same description as the reader. It omits
 * units and references between parts, which only the reader checks.
 */
export const systemSchema: JsonSchema = {
  $schema: 'https://json-schema.org/draft/2020-12/schema',
  title: 'Stillhold system file, version 1',
  ...top.schema,
}

/** Ten times a large aircraft's file; a megabyte would keep the reader busy for seconds. */
const longestSystemFile = 65_536

/** YAML errors that are reported: later ones follow from the first. */
const errorsAtMost = 100

/**
 * Reads a system file (contract section 3). Never throws, whatever the text: all errors are returned with their places,
 * in file order.
 *
 * @param fileName only named in messages
 */
export function readSystemFile(text: string, fileName: string): SystemFileReading {
  const fail = (line: number, column: number, message: string): SystemFileReading => ({
    system: null,
    errors: [{ line, column, message }],
  })
  if (text.length > longestSystemFile) {
    return fail(
      1,
      1,
      `${fileName} has ${text.length} characters; a system file has at most ${longestSystemFile}`,
    )
  }
  const lines = new LineCounter()
  let documents: readonly Document.Parsed[]
  try {
    // The library's search for repeated keys is quadratic: it is done here.
    const options = {
      prettyErrors: false,
      logLevel: 'silent',
      uniqueKeys: false,
    } as const
    const tokens = untilTooManyErrors(new Parser(lines.addNewLine).parse(text))
    documents = [...new Composer(options).compose(tokens, true)]
  } catch (error) {
    return fail(1, 1, `${fileName} is not readable as YAML: ${oneLine(error)}`)
  }
  const [document, second] = documents
  const isEmpty = document?.contents === null && document.errors.length === 0 && second === undefined
  if (document === undefined || isEmpty)
    return fail(1, 1, `${fileName} is empty; a system file begins with "stillhold: 1"`)
  if (document.errors.length > 0) {
    // The YAML library reports its exhausted recursion as an error of the text.
    if (document.errors.some(({ message }) => message.includes('call stack')))
      return fail(1, 1, `${fileName} is nested too deeply`)
    const errors = document.errors.slice(0, errorsAtMost).map((error) => {
      const { line, col } = lines.linePos(error.pos[0])
      return {
        line: Math.max(line, 1),
        column: Math.max(col, 1),
        message: `not valid YAML: ${oneLine(error)}`,
      }
    })
    return { system: null, errors }
  }
  let file: FileView
  let system: System | null
  try {
    const { repeated, aliased } = survey(document)
    file = new FileView(document, lines, aliased)
    if (second !== undefined)
      file.error(second.contents, 'a second document (after ---); a file holds one system')
    for (const key of repeated) file.error(key, 'not valid YAML: Map keys must be unique')
    if (repeated.length > 0) return { system: null, errors: file.errors }
    system = readTop(file)
  } catch (error) {
    // Nesting thousands deep or an alias inside itself exhausts the YAML library's recursion, not ours.
    if (!(error instanceof RangeError || error instanceof ReferenceError)) throw error
    return fail(1, 1, `${fileName} is nested too deeply or refers to itself: ${oneLine(error)}`)
  }
  const errors = [...file.errors].sort((a, b) => a.line - b.line || a.column - b.column)
  return { system: errors.length > 0 ? null : system, errors }
}

/** Every error is an object with a stack: a file full of errors would cost seconds. */
function* untilTooManyErrors(tokens: Iterable<CST.Token>): Generator<CST.Token, void> {
  let errors = 0
  for (const token of tokens) {
    yield token
    if (token.type === 'error' && ++errors === errorsAtMost) return
  }
}

/** Repeated keys in file order, and the target of each alias. */
function survey(document: Document.Parsed): { repeated: Node[]; aliased: Map<Node, Node> } {
  const repeated: Node[] = []
  const anchored = new Map<string, Node>()
  const aliased = new Map<Node, Node>()
  visit(document, (_, node) => {
    if (isAlias(node)) {
      const target = anchored.get(node.source)
      if (target !== undefined) aliased.set(node, target)
    } else if (isNode(node) && node.anchor !== undefined) anchored.set(node.anchor, node)
    if (!isMap(node)) return
    const seen = new Set<unknown>()
    for (const { key } of node.items) {
      if (!isScalar(key)) continue
      if (seen.has(key.value)) repeated.push(key)
      seen.add(key.value)
    }
  })
  return { repeated, aliased }
}

/**
 * The system, or an error of one line for the terminal.
 *
 * @throws UnreadableFile naming file, line and the first cause
 */
export function systemFromFile(text: string, fileName: string): System {
  const { system, errors } = readSystemFile(text, fileName)
  if (system !== null) return system
  // A misspelled key also counts as missing: the error at the misspelling is more useful.
  const first = errors.find(({ message }) => /: unknown key "|: inside \{ \}/.test(message)) ?? errors[0]
  const more = errors.length > 1 ? ` (and ${errors.length - 1} more)` : ''
  throw new UnreadableFile(fileName, first?.line ?? null, `${first?.message}${more}`)
}

function readTop(file: FileView): System | null {
  const opened = top.open(file, file.resolve(file.document.contents), topName)
  if (opened === null) return null
  const { view, value } = opened
  const { stillhold: version, name } = value
  if (version !== null && version !== '1')
    view.error('stillhold', `is version "${version}"; this program reads version 1`)
  const sccReferenceK = value['scc-reference'] ?? defaultSccReferenceK
  if (sccReferenceK < 200 || sccReferenceK > 400) view.error('scc-reference', 'is not plausible')

  const molPerStandardM3 = molPerSOfStandard(1, sccReferenceK)
  const list = <E extends Entry<Mapping<unknown>>, T>(entries: readonly E[], read: (entry: E) => T | null) =>
    entries.map((entry) => ({ id: entry.id, value: read(entry), view: entry.view }))
  const placed = {
    channels: list(value.channels, readChannel),
    sections: list(value.sections, readSection),
    fittings: list(value.fittings, readFitting),
    valves: list(value.valves, readValve),
    holds: list(value.holds, (one) => readHold(one, molPerStandardM3)),
    checks: list(value.checks, (one) => readCheck(one, molPerStandardM3)),
  }
  checkReferences(file, placed)
  const papers = value.aircraft
  const shares = value.priors && readPriors(value.priors)
  if (name === null) return null
  return {
    name,
    sccReferenceK,
    channels: readable(placed.channels).flatMap(atEachPlace),
    sections: readable(placed.sections),
    fittings: readable(placed.fittings),
    valves: readable(placed.valves),
    holds: readable(placed.holds),
    checks: readable(placed.checks),
    ...(papers === null ? {} : { aircraft: papers.value }),
    ...(shares === null ? {} : { priors: shares }),
  }
}

function readPriors({ view, value }: Opened<typeof priors>): Priors | null {
  const { source, ...shares } = value
  const leaking: Partial<Record<FittingKind, number>> = {}
  for (const kind of fittingKinds) {
    const share = shares[kind]
    if (share === null) continue
    if (share <= 0 || share > 0.5) view.error(kind, 'must be more than 0 % and at most 50 %')
    leaking[kind] = share
  }
  return source === null ? null : { source, leaking }
}

function readable<T>(placed: Placed<T>): T[] {
  return placed.flatMap(({ value }) => (value === null ? [] : [value]))
}

function oneLine(error: unknown): string {
  return (error instanceof Error ? error.message : String(error)).replace(/\n.*/s, '')
}
