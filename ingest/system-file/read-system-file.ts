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
import type { Aircraft, FittingKind, Priors, System } from '#analysis/model/system.ts'
import { defaultSccReferenceK, molPerSOfStandard } from '#analysis/physics/standard-flow.ts'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'
import { checkReferences, type Placed } from './check-references.ts'
import { FileView, type MapView, type SystemFileError } from './file-view.ts'
import { atEachPlace, channelKeys, readChannel } from './read-channel.ts'
import { checkKeys, readCheck } from './read-check.ts'
import { fittingKeys, fittingKinds, readFitting } from './read-fitting.ts'
import { holdKeys, readHold } from './read-hold.ts'
import { quantity } from './read-quantity.ts'
import { readSection, sectionKeys } from './read-section.ts'
import { readValve, valveKeys } from './read-valve.ts'

export type { SystemFileError } from './file-view.ts'

export interface SystemFileReading {
  /** Null when there is any error. */
  readonly system: System | null
  readonly errors: readonly SystemFileError[]
}

export const topKeys = [
  'stillhold',
  'name',
  'scc-reference',
  'channels',
  'sections',
  'fittings',
  'valves',
  'holds',
  'checks',
  'aircraft',
  'priors',
] as const

/** Ten times a large aircraft's file; a megabyte would keep the reader busy for seconds. */
const longestSystemFile = 65_536

/** Errors of the YAML itself that are told: the later ones follow from the first. */
const errorsAtMost = 100

/**
 * Reads a system file (contract section 3). Whatever the text is, this returns: everything that is wrong comes back
 * as errors with their places, in the order of the file.
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
    // The library compares each key of a mapping with every other: repeated keys are looked for here.
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
  if (document.contents === null && document.errors.length === 0 && second === undefined)
    return fail(1, 1, `${fileName} is empty; a system file begins with "stillhold: 1"`)
  if (document.errors.length > 0) {
    // The YAML library tells its exhausted recursion as an error of the text.
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

/** Every error is an object with a stack: a file of nothing else would cost seconds. */
function* untilTooManyErrors(tokens: Iterable<CST.Token>): Generator<CST.Token, void> {
  let errors = 0
  for (const token of tokens) {
    yield token
    if (token.type === 'error' && ++errors === errorsAtMost) return
  }
}

/** Keys that stand in their mapping already, in the order of the file, and what each alias stands for. */
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
 * The system, or one clear line for the terminal.
 *
 * @throws UnreadableFile naming file, line and the first cause
 */
export function systemFromFile(text: string, fileName: string): System {
  const { system, errors } = readSystemFile(text, fileName)
  if (system !== null) return system
  // A key that is spelled wrong is missing, too: the word that stands there says more.
  const first = errors.find(({ message }) => /: unknown key "|: inside \{ \}/.test(message)) ?? errors[0]
  const more = errors.length > 1 ? ` (and ${errors.length - 1} more)` : ''
  throw new UnreadableFile(fileName, first.line, `${first.message}${more}`)
}

function readTop(file: FileView): System | null {
  const top = file.open(file.resolve(file.document.contents), 'system file', topKeys)
  if (top === null) return null
  const version = top.requiredText('stillhold')
  if (version !== null && version !== '1')
    top.error('stillhold', `is version "${version}"; this program reads version 1`)
  const name = top.requiredText('name')
  const reference = quantity(top, 'scc-reference', { dimension: 'temperature' })
  const sccReferenceK = reference ?? defaultSccReferenceK
  if (sccReferenceK < 200 || sccReferenceK > 400) top.error('scc-reference', 'is no reference temperature')

  const molPerStandardM3 = molPerSOfStandard(1, sccReferenceK)
  top.required('sections')
  const placed = {
    channels: readList(top, 'channels', 'channel', channelKeys, readChannel),
    sections: readList(top, 'sections', 'section', sectionKeys, readSection),
    fittings: readList(top, 'fittings', 'fitting', fittingKeys, readFitting),
    valves: readList(top, 'valves', 'valve', valveKeys, readValve),
    holds: readList(top, 'holds', 'hold', holdKeys, (view) => readHold(view, molPerStandardM3)),
    checks: readList(top, 'checks', 'check', checkKeys, (view) => readCheck(view, molPerStandardM3)),
  }
  checkReferences(file, placed)
  const aircraft = readAircraft(top)
  const priors = readPriors(top)
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
    ...(aircraft === null ? {} : { aircraft }),
    ...(priors === null ? {} : { priors }),
  }
}

function readAircraft(top: MapView): Aircraft | null {
  const node = top.node('aircraft')
  const view = node && top.file.open(node, 'aircraft', ['registration', 'serial'])
  return view && { registration: view.text('registration'), serial: view.text('serial') }
}

function readPriors(top: MapView): Priors | null {
  const node = top.node('priors')
  const view = node && top.file.open(node, 'priors', ['source', ...fittingKinds])
  if (view === null) return null
  const leaking: Partial<Record<FittingKind, number>> = {}
  for (const kind of fittingKinds) {
    const share = quantity(view, kind, { dimension: 'ratio' })
    if (share === null) continue
    if (share <= 0 || share > 0.5) view.error(kind, 'must be more than 0 % and at most 50 %')
    leaking[kind] = share
  }
  const source = view.requiredText('source')
  return source === null ? null : { source, leaking }
}

function readList<T>(
  top: MapView,
  key: string,
  noun: string,
  keys: readonly string[],
  read: (view: MapView) => T | null,
): Placed<T> {
  const { file } = top
  return file.items(top.node(key), key).flatMap((node: Node, index) => {
    const id = file.idOf(node)
    const view = file.open(node, `${noun} ${id ?? index + 1}`, keys)
    if (view === null) return []
    return [{ id, value: read(view), view }]
  })
}

function readable<T>(placed: Placed<T>): T[] {
  return placed.flatMap(({ value }) => (value === null ? [] : [value]))
}

function oneLine(error: unknown): string {
  return (error instanceof Error ? error.message : String(error)).split('\n')[0]
}
