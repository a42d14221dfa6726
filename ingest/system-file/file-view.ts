import {
  type Document,
  isAlias,
  isMap,
  isScalar,
  isSeq,
  type LineCounter,
  type Node,
  type Pair,
  type YAMLMap,
} from 'yaml'
import { editsBetween } from '#analysis/physics/units.ts'

/** One error in a system file, with its place. */
export interface SystemFileError {
  readonly line: number
  readonly column: number
  readonly message: string
}

/**
 * The known word nearest to a mistyped one, by edit distance (insert, delete, replace, swap of neighbours). Ties go to the
 * first in `known`. Null only when `known` is empty.
 */
export function nearestKey(typed: string, known: readonly string[]): string | null {
  const edits = known.map((word) => editsBetween(typed.toLowerCase(), word.toLowerCase()))
  return known[edits.indexOf(Math.min(...edits))] ?? null
}

/** The file being read: positions of nodes, and the errors so far. */
export class FileView {
  readonly errors: SystemFileError[] = []

  constructor(
    readonly document: Document.Parsed,
    readonly lines: LineCounter,
    /** Cached target of each alias: the library searches the whole document for each. */
    readonly aliased: ReadonlyMap<Node, Node>,
  ) {}

  error(node: Node | null, message: string): void {
    this.errors.push({ ...this.#place(node), message })
  }

  /** The node with aliases resolved; null for a missing or empty (`key:`) value. */
  resolve(node: unknown): Node | null {
    const found = isAlias(node) ? this.aliased.get(node) : (node as Node | null | undefined)
    if (found === null || found === undefined) return null
    return isScalar(found) && found.value === null ? null : found
  }

  /**
   * Source text of a scalar: `-6` stays "-6" and `2026-03-02` stays a date.
   * Undefined when the node is not a scalar.
   */
  textOf(node: Node): string | undefined {
    if (!isScalar(node)) return undefined
    return typeof node.value === 'string' ? node.value.trim() : (node.source ?? String(node.value)).trim()
  }

  /** Opens a mapping and reports unknown keys; null (and an error) when it is not a mapping. */
  open(node: Node | null, what: string, keys: readonly string[], at: Node | null = node): MapView | null {
    if (!isMap(node)) {
      this.error(node ?? at, `${what}: expected a mapping of keys (${keys.join(', ')})`)
      return null
    }
    let before: Pair | null = null
    for (const pair of node.items) {
      const keyNode = this.resolve(pair.key)
      const key = keyNode && this.textOf(keyNode)
      const previous: Pair | null = before
      before = pair
      if (previous && node.flow && key && this.#cutAtComma(previous, pair, key, what)) continue
      if (key === null || key === undefined || !keys.includes(key)) {
        const named = key === null || key === undefined ? 'a key that is not a word' : `unknown key "${key}"`
        this.error(
          keyNode ?? node,
          `${what}: ${named}; the nearest known key is "${nearestKey(key ?? '', keys)}"`,
        )
      }
    }
    return new MapView(this, node, what)
  }

  /** Inside `{ }` a comma ends the value: `{ volume: 0,85 L }` is `volume: 0` and a key `85 L`. Reports this and continues. */
  #cutAtComma(before: Pair, pair: Pair, key: string, what: string): boolean {
    const [whole, name] = [this.resolve(before.value), this.resolve(before.key)]
    const digits = whole === null ? undefined : this.textOf(whole)
    if (!/^\d/.test(key) || this.resolve(pair.value) !== null) return false
    if (!isScalar(whole) || name === null || digits === undefined || !/^[+-]?\d+$/.test(digits)) return false
    const meant = `${digits},${key}`
    this.error(
      whole,
      `${what}: ${this.textOf(name)}: inside { } a comma ends the value; write ${meant.replace(',', '.')} or quote it: "${meant}"`,
    )
    whole.value = meant
    return true
  }

  /** The `id` of an entry, read before its other keys, so that messages can name it. */
  idOf(node: Node): string | null {
    const id = isMap(node) ? new MapView(this, node, '').node('id') : null
    return (id && this.textOf(id)) || null
  }

  /** Items of a list; a missing list is empty, a value of another type is an error. */
  items(node: Node | null, what: string): Node[] {
    if (node === null) return []
    if (!isSeq(node)) {
      this.error(node, `${what}: expected a list`)
      return []
    }
    const items: Node[] = []
    for (const raw of node.items) {
      const item = this.resolve(raw)
      if (item === null) this.error((raw as Node | null) ?? node, `${what}: an empty entry`)
      else items.push(item)
    }
    return items
  }

  #place(node: Node | null): { line: number; column: number } {
    const offset = node?.range?.[0] ?? 0
    const { line, col } = this.lines.linePos(offset)
    return { line: Math.max(line, 1), column: Math.max(col, 1) }
  }
}

/** Name of the whole file in messages. */
export const topName = 'system file'

/** One mapping of the file, with `what` naming it in messages ("channel p-left"). */
export class MapView {
  constructor(
    readonly file: FileView,
    readonly map: YAMLMap,
    readonly what: string,
  ) {}

  /** Value of a key, or null when it is missing or empty. */
  node(key: string): Node | null {
    for (const pair of this.map.items) {
      const keyNode = this.file.resolve(pair.key)
      if (keyNode && this.file.textOf(keyNode) === key) return this.file.resolve(pair.value)
    }
    return null
  }

  /** Name of the value of a key in messages. */
  below(key: string): string {
    return this.what === topName ? key : `${this.what}: ${key}`
  }

  missing(key: string): void {
    this.file.error(this.map, `${this.what}: "${key}" is missing`)
  }

  text(key: string): string | null {
    const node = this.node(key)
    if (node === null) return null
    const text = this.file.textOf(node)
    if (text) return text
    const wrong = text === '' ? 'is empty' : `expected text, found a ${isMap(node) ? 'mapping' : 'list'}`
    this.error(key, wrong)
    return null
  }

  /** A list of names; reports entries that are not names. */
  words(key: string): string[] {
    const what = this.below(key)
    return this.file.items(this.node(key), what).flatMap((node) => {
      const text = this.file.textOf(node)
      if (text) return [text]
      this.file.error(node, `${what}: expected a name`)
      return []
    })
  }

  /** The name, or the names of the list, under `key`, each with its place; reports no errors. */
  names(key: string): { text: string; node: Node }[] {
    const node = this.node(key)
    if (node === null) return []
    const nodes = isSeq(node) ? node.items.map((item) => this.file.resolve(item)) : [node]
    return nodes.flatMap((item) => {
      const text = item && this.file.textOf(item)
      return text ? [{ text, node: item }] : []
    })
  }

  error(key: string, message: string): void {
    this.file.error(this.node(key) ?? this.map, `${this.what}: ${key}: ${message}`)
  }
}
