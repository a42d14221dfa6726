import { isMap, isScalar, isSeq, type Node, type Pair, parseDocument, type YAMLMap } from 'yaml'

/** One calibration of a channel: quantities as they are written into the file, such as `10 psi`. */
export interface WrittenCalibration {
  readonly channel: string
  /** ISO date. */
  readonly date: string
  readonly due: string | null
  readonly points: readonly (readonly [trueText: string, readText: string])[]
}

/**
 * The text of a system file with one channel's calibration written into it, in place of an earlier one. Every other
 * byte stays: comments, order and spacing are the user's own.
 *
 * @param text a system file without errors
 * @returns null when the file has no such channel
 */
export function calibrateChannel(
  text: string,
  { channel, date, due, points }: WrittenCalibration,
): string | null {
  const map = channelMap(text, channel)
  if (map === null) return null
  const pairs = points.map(([trueText, readText]) => `[${trueText}, ${readText}]`).join(', ')
  const value = `{ date: ${date},${due ? ` due: ${due},` : ''} points: [${pairs}] }`
  const old = map.items.find((pair) => keyOf(pair) === 'calibration')
  if (old) {
    const [start, end] = placeOf(old)
    return `${text.slice(0, start)}calibration: ${value}${text.slice(end)}`
  }
  const last = map.items.reduce((end, pair) => Math.max(end, placeOf(pair)[1]), 0)
  if (map.flow) return `${text.slice(0, last)}, calibration: ${value}${text.slice(last)}`
  // Below the line of the last key, so that a comment behind it stays with it; in the column of the first.
  const [first] = placeOf(map.items[0])
  const column = first - (text.lastIndexOf('\n', first - 1) + 1)
  const lineEnd = text.indexOf('\n', last)
  const at = lineEnd < 0 ? text.length : lineEnd
  const newLine = text.slice(0, at).endsWith('\r') ? '\r\n' : '\n'
  const before = text.slice(0, newLine === '\r\n' ? at - 1 : at)
  return `${before}${newLine}${' '.repeat(column)}calibration: ${value}${text.slice(before.length)}`
}

function channelMap(text: string, id: string): YAMLMap | null {
  const channels = parseDocument(text).get('channels')
  if (!isSeq(channels)) return null
  for (const item of channels.items) if (isMap(item) && String(item.get('id')) === id) return item
  return null
}

const keyOf = ({ key }: Pair): unknown => (isScalar(key) ? key.value : key)

/** From the first character of the key to the last of the value. */
function placeOf({ key, value }: Pair): [start: number, end: number] {
  const [start, afterKey] = rangeOf(key as Node)
  return [start, value === null ? afterKey : endOf(value as Node)]
}

/** A block's own range goes on over the comments and line ends behind it: its last leaf tells where it ends. */
function endOf(node: Node): number {
  if (isMap(node) && !node.flow && node.items.length > 0) return placeOf(node.items.at(-1)!)[1]
  if (isSeq(node) && !node.flow && node.items.length > 0) return endOf(node.items.at(-1) as Node)
  return rangeOf(node)[1]
}

/** Every node that was parsed has its place. */
const rangeOf = (node: Node): readonly [start: number, end: number, next: number] => node.range!
