import {
  isMap,
  isScalar,
  isSeq,
  type Node,
  type Pair,
  parse,
  parseDocument,
  stringify,
  type YAMLMap,
} from 'yaml'

export const editedLists = ['channels', 'sections', 'fittings', 'valves', 'holds', 'checks'] as const
type EditedList = (typeof editedLists)[number]

export type WrittenValue =
  | string
  | number
  | readonly WrittenValue[]
  | { readonly [key: string]: WrittenValue }

/** One change of a system file by a form. */
export interface SystemEdit {
  /** List of the file; null for the keys above the lists, such as the name. */
  readonly list: EditedList | null
  /** Entry of the list; null adds one. */
  readonly id: string | null
  /** Keys to write; null removes a key. Null instead of the record removes the entry and its dependents. */
  readonly keys: Readonly<Record<string, WrittenValue | null>> | null
}

export type WrittenEntry = { readonly id: string; readonly [key: string]: WrittenValue }
export type WrittenParts = Readonly<Partial<Record<EditedList, readonly WrittenEntry[]>>>

/** The entries of a system file without errors, every value as its source text. */
export function writtenParts(text: string): WrittenParts {
  const all = parse(text, { schema: 'failsafe', maxAliasCount: -1 }) as WrittenParts
  return Object.fromEntries(editedLists.map((list) => [list, Array.isArray(all[list]) ? all[list] : []]))
}

/**
 * Keys that name entries of another list. A removal also removes entries left without a reference, unless the key is
 * optional.
 */
export const references = [
  { list: 'channels', key: 'section', of: 'sections' },
  { list: 'channels', key: 'places', of: 'sections' },
  { list: 'fittings', key: 'section', of: 'sections' },
  { list: 'fittings', key: 'behind', of: 'fittings', optional: true },
  { list: 'valves', key: 'between', of: 'sections' },
  { list: 'holds', key: 'sections', of: 'sections' },
  { list: 'holds', key: 'shut', of: 'valves', optional: true },
  { list: 'holds', key: 'rig', of: 'sections', optional: true },
  { list: 'checks', key: 'section', of: 'sections' },
] as const satisfies readonly { list: EditedList; key: string; of: EditedList; optional?: true }[]

/** A value as YAML text after its key: `{ drop: 0.1 psi }`, `[V1, V2]`. */
export function written(value: WrittenValue): string {
  // A number keeps its typed text: the reader parses the text.
  if (/^-?\d+(\.\d+)?$/.test(String(value))) return String(value)
  if (typeof value !== 'object')
    return stringify([value], { collectionStyle: 'flow', lineWidth: 0 }).trim().slice(2, -2)
  if (Array.isArray(value)) return `[${value.map(written).join(', ')}]`
  const pairs = Object.entries(value).map(([key, one]) => `${key}: ${written(one)}`)
  return `{ ${pairs.join(', ')} }`
}

/**
 * Applies one change to the text of a system file. Every other byte stays, including the user's comments, order and
 * spacing. A changed id changes at every reference.
 *
 * @param text a system file without errors
 * @returns null when the file has no such entry
 */
export function editSystemFile(text: string, { list, id, keys }: SystemEdit): string | null {
  if (list === null) return setKeys(text, (root) => root, keys ?? {}, 'name')
  if (id === null) return keys === null ? null : addEntry(text, list, keys)
  if (keys === null) {
    const without = removeEntry(text, list, id)
    return without === null ? null : rename(without, list, id, null)
  }
  const changed = setKeys(text, (root) => entryOf(root, list, id), keys)
  const to = keys.id === undefined ? id : String(keys.id)
  return changed === null || to === id ? changed : rename(changed, list, id, to)
}

/** Renames or removes every reference to an id. */
function rename(text: string, list: EditedList, from: string, to: string | null): string {
  let now = text
  for (const { key, ...reference } of references.filter(({ of }) => of === list)) {
    const root = rootOf(now)
    for (const entry of entriesOf(root, reference.list)) {
      const named = entry.get(key)
      const all = isSeq(named) ? named.items.map(nameOf) : named === undefined ? [] : [nameOf(named)]
      if (!all.includes(from)) continue
      const id = nameOf(entry.get('id'))
      const left =
        to === null ? all.filter((one) => one !== from) : all.map((one) => (one === from ? to : one))
      const [one = null] = left
      const isKept = one !== null || 'optional' in reference
      const keys = isKept ? { [key]: one !== null && isSeq(named) ? left : one } : null
      now = editSystemFile(now, { list: reference.list, id, keys }) ?? now
    }
  }
  return now
}

const nameOf = (value: unknown): string => String(isScalar(value) ? value.value : value)

/** Replaces the text between two offsets with `by`. */
type Splice = readonly [start: number, end: number, by: string]

function spliced(text: string, splices: readonly Splice[]): string {
  return [...splices]
    .sort(([a], [b]) => b - a)
    .reduce((now, [start, end, by]) => now.slice(0, start) + by + now.slice(end), text)
}

/** @param behind key after which new ones are inserted; default: the last */
function setKeys(
  text: string,
  find: (root: YAMLMap) => YAMLMap | null,
  keys: NonNullable<SystemEdit['keys']>,
  behind = '',
): string | null {
  const map = find(rootOf(text))
  if (map === null) return null
  const pairOf = (key: string) => map.items.find((pair) => nameOf(pair.key) === key)
  const splices = Object.entries(keys).flatMap(([key, value]): Splice[] => {
    const pair = pairOf(key)
    if (pair === undefined) return []
    return [value === null ? cutOut(text, map, pair) : [...placeOf(pair), `${key}: ${written(value)}`]]
  })
  const fresh = Object.entries(keys).flatMap(([key, value]) =>
    value === null || pairOf(key) !== undefined ? [] : [`${key}: ${written(value)}`],
  )
  if (fresh.length === 0) return spliced(text, splices)
  const [top] = map.items
  const last = map.items.at(-1)
  if (top === undefined || last === undefined) throw new TypeError('an entry without keys has an error')
  const end = placeOf(pairOf(behind) ?? last)[1]
  if (map.flow) return spliced(text, [...splices, [end, end, `, ${fresh.join(', ')}`]])
  // Below the line of the last key, so that its comment stays with it; in the column of the first.
  const [first] = placeOf(top)
  const margin = ' '.repeat(first - lineStart(text, first))
  const at = lineEnd(text, end)
  return spliced(text, [...splices, [at, at, fresh.map((one) => newLine(text) + margin + one).join('')]])
}

function addEntry(text: string, list: EditedList, keys: NonNullable<SystemEdit['keys']>): string {
  const root = rootOf(text)
  const entry = Object.fromEntries(Object.entries(keys).filter(([, value]) => value !== null))
  const flow = written(entry as Record<string, WrittenValue>)
  const end = newLine(text)
  const pair = root.items.find(({ key }) => nameOf(key) === list)
  const seq = pair?.value
  const last = isSeq(seq) ? (seq.items.at(-1) as Node | undefined) : undefined
  if (pair === undefined) {
    const before = text.endsWith('\n') ? text : text + end
    return `${before}${list}:${end}  - ${flow}${end}`
  }
  if (!isSeq(seq) || last === undefined) {
    const [start, stop] = placeOf(pair)
    return spliced(text, [[start, stop, `${list}:${end}  - ${flow}`]])
  }
  const stop = endOf(last)
  if (seq.flow) return spliced(text, [[stop, stop, `, ${flow}`]])
  const dash = dashOf(text, last)
  const margin = ' '.repeat(dash - lineStart(text, dash))
  const lines = Object.entries(entry).map(([key, value]) => `${key}: ${written(value as WrittenValue)}`)
  const body = isMap(last) && !last.flow ? lines.join(`${end}${margin}  `) : flow
  const at = lineEnd(text, stop)
  return spliced(text, [[at, at, `${end}${margin}- ${body}`]])
}

function removeEntry(text: string, list: EditedList, id: string): string | null {
  const root = rootOf(text)
  const entry = entryOf(root, list, id)
  const seq = root.get(list)
  if (entry === null || !isSeq(seq)) return null
  return spliced(text, [cutOut(text, seq, entry)])
}

/** Removes one item of a list or mapping with its comma, or with its line. */
function cutOut(text: string, parent: { flow?: boolean; items: unknown[] }, item: Node | Pair): Splice {
  const at = parent.items.indexOf(item)
  const place = (one: unknown) => ('key' in (one as object) ? placeOf(one as Pair) : placeOfNode(one as Node))
  const [start, end] = place(item)
  const [before, after] = [parent.items[at - 1], parent.items[at + 1]]
  if (parent.flow) {
    if (before !== undefined) return [place(before)[1], end, '']
    return [start, after === undefined ? end : place(after)[0], '']
  }
  // The first key after a dash leaves the dash to the next.
  if (at === 0 && 'key' in item && after !== undefined) return [start, place(after)[0], '']
  const stop = lineEnd(text, end)
  return [lineStart(text, start), Math.min(text.length, stop + newLine(text).length), '']
}

function rootOf(text: string): YAMLMap {
  const { contents } = parseDocument(text)
  if (!isMap(contents)) throw new TypeError('a system file without errors is a mapping')
  return contents as YAMLMap
}

function entriesOf(root: YAMLMap, list: EditedList): YAMLMap[] {
  const seq = root.get(list)
  return isSeq(seq) ? seq.items.filter((item): item is YAMLMap => isMap(item)) : []
}

const entryOf = (root: YAMLMap, list: EditedList, id: string): YAMLMap | null =>
  entriesOf(root, list).find((entry) => nameOf(entry.get('id')) === id) ?? null

const newLine = (text: string): string => (text.includes('\r\n') ? '\r\n' : '\n')
const lineStart = (text: string, at: number): number => text.lastIndexOf('\n', at - 1) + 1
/** Offset before the line end. */
function lineEnd(text: string, at: number): number {
  const end = text.indexOf('\n', at)
  if (end < 0) return text.length
  return text[end - 1] === '\r' ? end - 1 : end
}
const dashOf = (text: string, node: Node): number => text.lastIndexOf('-', rangeOf(node)[0] - 1)

/** From the first character of the key to the last of the value. */
function placeOf({ key, value }: Pair): [start: number, end: number] {
  const [start, afterKey] = rangeOf(key as Node)
  return [start, value === null ? afterKey : Math.max(afterKey, endOf(value as Node))]
}

const placeOfNode = (node: Node): [start: number, end: number] => [rangeOf(node)[0], endOf(node)]

/** A block's range includes the comments and line ends after it: its end is that of its last leaf. */
function endOf(node: Node): number {
  if (isMap(node) && !node.flow && node.items.length > 0) return placeOf(node.items.at(-1)!)[1]
  if (isSeq(node) && !node.flow && node.items.length > 0) return endOf(node.items.at(-1) as Node)
  return rangeOf(node)[1]
}

/** Every parsed node has a range. */
const rangeOf = (node: Node): readonly [start: number, end: number, next: number] => node.range!
