import { dot, minus, nine, zero } from '#ingest/line-protocol/ascii.ts'
import { powersOfTen } from '#ingest/line-protocol/field-value.ts'
import { formatKey, formatSeries } from '#ingest/line-protocol/format-point.ts'
import type { Field, Point } from '#ingest/line-protocol/point.ts'
import { sequenceFields } from './sequence.ts'

/** A line read as a point, before it gets a timestamp. */
export interface LineReading {
  readonly point: Point
  /** The point as line protocol; without a timestamp when the logger sent none. */
  readonly text: string
}

/** A number of a line: the text before it, its field, and the text before it in line protocol. */
interface NumberAt {
  readonly before: string
  readonly key: string
  readonly prefix: string
  readonly isInteger: boolean
}

/** The text that lines of one shape have in common, and what their numbers are. */
interface Shape {
  readonly point: Point
  readonly numbers: readonly NumberAt[]
  readonly after: string
}

/** A number that is no part of a word. */
const plainNumber = /(?<![\w.+-])-?\d+(?:\.\d+)?(?![\w.])/g
/** Numbers put in the place of each one in turn, to see which field follows. */
const probes = [1234.5, -77]
const mostNumbers = 64
const longestLine = 4096
const mostShapes = 8
/** A logger whose text changes all the time gives new shapes without end. */
const mostTrials = 64

/**
 * Lines of one logger differ only in their numbers. A shape is learned from a line that the dialect has read; a later
 * line of the same shape with plain decimals is read without the dialect, to the same point and the same text.
 */
export class RepeatedLines {
  readonly #shapes: Shape[] = []
  #trials = 0
  #newest = 0

  /** The reading of a line of a known shape, else null. */
  read(line: string): LineReading | null {
    const shapes = this.#shapes
    for (let n = 0, k = this.#newest; n < shapes.length; n++, k = k + 1 === shapes.length ? 0 : k + 1) {
      // k stays below the number of shapes.
      const reading = readBy(shapes[k]!, line)
      if (reading === null) continue
      this.#newest = k
      return reading
    }
    return null
  }

  /**
   * Learns the shape of a line.
   *
   * @param point what the dialect made of the line
   * @param pointOf what a dialect that has read no line makes of one; null when it refuses it
   */
  learn(line: string, point: Point, pointOf: (line: string) => Point | null): void {
    if (line.length > longestLine || line.includes('crc') || point.timeNs !== null) return
    if (!point.fields.every(({ key, type }) => type === (sequenceFields.includes(key) ? 'integer' : 'float')))
      return
    if (this.#trials++ >= mostTrials) return
    const shape = shapeOf(line, point, pointOf)
    if (shape === null) return
    this.#newest = this.#shapes.length < mostShapes ? this.#shapes.length : (this.#newest + 1) % mostShapes
    this.#shapes[this.#newest] = shape
  }
}

function shapeOf(line: string, point: Point, pointOf: (line: string) => Point | null): Shape | null {
  const found = [...line.matchAll(plainNumber)]
  if (found.length > mostNumbers) return null
  const numbers: NumberAt[] = []
  let at = 0
  for (const { 0: text, index } of found) {
    const end = index + text.length
    const [follower, alike] = probes.map((probe) =>
      followerOf(point, pointOf(`${line.slice(0, index)}${probe}${line.slice(end)}`), probe),
    )
    if (follower !== alike || follower === -1) continue
    const n = numbers.length
    const field = point.fields[n]
    // The fields are written in the order of the numbers.
    if (follower !== n || field === undefined) return null
    const { key, type } = field
    const prefix = n === 0 ? `${formatSeries(point)} ` : ','
    const isInteger = type === 'integer'
    numbers.push({ before: line.slice(at, index), key, prefix: `${prefix}${formatKey(key)}=`, isInteger })
    at = end
  }
  return numbers.length === point.fields.length ? { point, numbers, after: line.slice(at) } : null
}

/** Index of the only field that differs between two points, when it has become `probe`; -1 otherwise. */
function followerOf(point: Point, probed: Point | null, probe: number): number {
  if (probed === null || probed.timeNs !== null || probed.fields.length !== point.fields.length) return -1
  if (formatSeries(probed) !== formatSeries(point)) return -1
  if (probed.fields.some(({ key }, i) => key !== point.fields[i]?.key)) return -1
  const isChanged = ({ value }: Field, i: number) => value !== point.fields[i]?.value
  const [changed, ...others] = probed.fields.filter(isChanged)
  return others.length === 0 && Number(changed?.value) === probe ? probed.fields.findIndex(isChanged) : -1
}

function readBy({ point, numbers, after }: Shape, line: string): LineReading | null {
  const { measurement, tags } = point
  const fields: Field[] = []
  let text = ''
  let at = 0
  for (const { before, key, prefix, isInteger } of numbers) {
    if (!line.startsWith(before, at)) return null
    const from = at + before.length
    let i = from
    let c = line.charCodeAt(i)
    const isNegative = c === minus
    if (isNegative) c = line.charCodeAt(++i)
    const wholeFrom = i
    let mantissa = 0
    while (c >= zero && c <= nine) {
      mantissa = mantissa * 10 + (c - zero)
      c = line.charCodeAt(++i)
    }
    const whole = i - wholeFrom
    // Ten digits may be a date; a leading zero is not JSON.
    if (whole === 0 || whole > 9 || (whole > 1 && line.charCodeAt(wholeFrom) === zero)) return null
    let end = i
    let value = mantissa
    if (c === dot) {
      const decimalsFrom = ++i
      c = line.charCodeAt(i)
      while (c >= zero && c <= nine) {
        mantissa = mantissa * 10 + (c - zero)
        if (c !== zero) end = i + 1
        c = line.charCodeAt(++i)
      }
      const decimals = i - decimalsFrom
      // Up to 15 digits, the decimal is also the shortest text of its double.
      if (decimals === 0 || whole + decimals > 15 || isInteger) return null
      value = mantissa / powersOfTen[decimals]!
    }
    // The engine writes -0 in its own way, and smaller numbers with an exponent.
    if (value < 1e-6 && (isNegative || value !== 0)) return null
    const number = isNegative ? -value : value
    text += prefix + line.slice(from, end)
    if (isInteger) {
      text += 'i'
      fields.push({ key, type: 'integer', value: BigInt(number) })
    } else fields.push({ key, type: 'float', value: number })
    at = i
  }
  if (line.length !== at + after.length || !line.endsWith(after)) return null
  return { point: { measurement, tags, fields, timeNs: null }, text }
}
