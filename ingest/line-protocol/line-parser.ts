import {
  backslash,
  carriageReturn,
  comma,
  dot,
  equals,
  hash,
  letterE,
  letterI,
  letterU,
  minus,
  newline,
  nine,
  plus,
  quote,
  space,
  zero,
} from './ascii.ts'
import { scanElement, unescapeElement } from './element-scanner.ts'
import { powersOfTen } from './field-value.ts'
import { type Field, mostFields, type Point, type Precision } from './point.ts'
import { type KnownKey, parseHead, type SeriesHead } from './series-head.ts'

/** What a parse found. `incomplete`: the text ends inside a string. */
export type Found = 'point' | 'blank' | 'comment' | 'refused' | 'incomplete'

const headsKept = 8
/** A string over several lines is at most this long. */
const mostStringLines = 256
const longestString = 65_536
const largestInteger = 2n ** 63n - 1n
const smallestInteger = -(2n ** 63n)
const largestUnsigned = 2n ** 64n - 1n
const zerosToNs: Readonly<Record<Precision, string>> = { ns: '', us: '000', ms: '000000', s: '000000000' }
const nothing: Point = { measurement: '', tags: {}, fields: [], timeNs: null }

const booleans: Readonly<Record<string, boolean>> = Object.assign(Object.create(null), {
  ...{ t: true, T: true, true: true, True: true, TRUE: true },
  ...{ f: false, F: false, false: false, False: false, FALSE: false },
})

/** Index of the closing quote of a string whose text starts at `from`; -1 when there is none. */
function closingQuote(text: string, from: number): number {
  for (let i = from; i < text.length; i++) {
    const c = text.charCodeAt(i)
    if (c === quote) return i
    if (c === backslash) i++
  }
  return -1
}

/**
 * Reads line protocol from text, one line at a time (grammar.ebnf). Fast where lines repeat their series and field
 * names, strict everywhere: a line is accepted or refused as a whole.
 *
 * After `parse`, `end` is where to continue. A refused line ends at its first newline, even within an open string, so
 * that one broken quote costs one line.
 */
export class LineParser {
  point: Point = nothing
  /** Index after the result. */
  end = 0
  /** Newlines within the result, without its line end. */
  innerNewlines = 0
  cause = ''
  causeAt = 0

  #text = ''
  #at = 0
  #isLast = false
  /** Ring of the most recent series; loggers have a handful. */
  readonly #heads: SeriesHead[] = []
  #headHit = 0
  #nextSlot = 0
  readonly #zeros: string

  constructor(precision: Precision = 'ns') {
    this.#zeros = zerosToNs[precision]
  }

  /**
   * @param text ends with a newline, unless it is the last
   * @param isLast nothing follows `text`: its end closes a line like a newline
   */
  parse(text: string, start: number, isLast: boolean): Found {
    this.#text = text
    this.#isLast = isLast
    this.innerNewlines = 0
    let i = start
    while (text.charCodeAt(i) === space) i++
    this.#at = i
    const c = text.charCodeAt(i)
    if (c === hash) return this.#comment(start, i)
    if (this.#isLineEnd(i)) return this.#close('blank', start)
    const head = this.#head(i)
    if (head === null) return this.#refusal(start)
    const fields = this.#fields(head)
    if (fields === null) return this.#refusal(start)
    const timeNs = this.#time()
    if (timeNs === undefined) return this.#refusal(start)
    this.point = { measurement: head.measurement, tags: head.tags, fields, timeNs }
    return this.#close('point', start)
  }

  #head(at: number): SeriesHead | null {
    const text = this.#text
    const heads = this.#heads
    for (let n = 0, k = this.#headHit; n < heads.length; n++, k = k + 1 === heads.length ? 0 : k + 1) {
      const known = heads[k]
      if (text.startsWith(known.raw, at)) {
        this.#headHit = k
        this.#at = at + known.raw.length
        return known
      }
    }
    const head = parseHead(text, at)
    if ('cause' in head) {
      this.#fail(head.at, head.cause)
      return null
    }
    this.#headHit = this.#nextSlot
    heads[this.#nextSlot] = head
    this.#nextSlot = (this.#nextSlot + 1) % headsKept
    this.#at = at + head.raw.length
    return head
  }

  #fields(head: SeriesHead): Field[] | null {
    const text = this.#text
    const known = head.keys
    const fields: Field[] = []
    /** Keys of this line, once they differ from the previous line. */
    let keys: KnownKey[] | null = null
    let names: Set<string> | null = null
    while (text.charCodeAt(this.#at) === space) this.#at++
    for (;;) {
      const n = fields.length
      if (n === mostFields) return this.#fail(this.#at, `more than ${mostFields} fields`)
      let key: KnownKey
      if (keys === null && n < known.length && text.startsWith(known[n].raw, this.#at)) {
        key = known[n]
        this.#at += key.raw.length
      } else {
        const read = this.#fieldKey()
        if (read === null) return null
        key = read
        keys ??= known.slice(0, n)
        names ??= new Set(keys.map((one) => one.key))
        if (names.has(key.key))
          return this.#fail(this.#at - key.raw.length, `the field ${JSON.stringify(key.key)} is repeated`)
        names.add(key.key)
        keys.push(key)
      }
      const field = this.#value(key.key)
      if (field === null) return null
      fields.push(field)
      if (text.charCodeAt(this.#at) !== comma) break
      this.#at++
    }
    if (keys !== null) head.keys = keys
    return fields
  }

  #fieldKey(): KnownKey | null {
    const from = this.#at
    const scan = scanElement(this.#text, from, 'field key', true)
    if (scan.fault !== null) return this.#fail(scan.end, scan.fault)
    if (this.#text.charCodeAt(scan.end) !== equals)
      return this.#fail(scan.end, 'expected "=" after the field key')
    const raw = this.#text.slice(from, scan.end)
    this.#at = scan.end + 1
    return { raw: `${raw}=`, key: scan.escaped ? unescapeElement(raw, true) : raw }
  }

  #value(key: string): Field | null {
    const c = this.#text.charCodeAt(this.#at)
    if ((c >= zero && c <= nine) || c === minus || c === dot) return this.#number(key)
    if (c === quote) {
      const value = this.#string()
      return value === null ? null : { key, type: 'string', value }
    }
    return this.#word(key)
  }

  #number(key: string): Field | null {
    const text = this.#text
    const from = this.#at
    let i = from
    let c = text.charCodeAt(i)
    const negative = c === minus
    if (negative) c = text.charCodeAt(++i)
    const digitsFrom = i
    let mantissa = 0
    while (c >= zero && c <= nine) {
      mantissa = mantissa * 10 + (c - zero)
      c = text.charCodeAt(++i)
    }
    const wholeDigits = i - digitsFrom
    if (c === letterI || c === letterU) return this.#integer(key, from, i, c === letterU, negative)
    let digits = wholeDigits
    if (c === dot) {
      c = text.charCodeAt(++i)
      while (c >= zero && c <= nine) {
        mantissa = mantissa * 10 + (c - zero)
        digits++
        c = text.charCodeAt(++i)
      }
    }
    this.#at = i
    if (digits === 0) return this.#fail(from, 'expected a number')
    if (c === letterE || c === letterE - 32) return this.#exponent(key, from, i)
    if (!this.#endsValue(i)) return this.#fail(i, 'expected the number to end here')
    // Up to 15 digits and a power of ten below 1e22 are exact doubles: one correctly rounded division.
    const size =
      digits <= 15 ? mantissa / powersOfTen[digits - wholeDigits] : Math.abs(Number(text.slice(from, i)))
    if (size === Number.POSITIVE_INFINITY) return this.#fail(from, 'the number is too large')
    return { key, type: 'float', value: negative ? -size : size }
  }

  #exponent(key: string, from: number, at: number): Field | null {
    const text = this.#text
    let i = at + 1
    let c = text.charCodeAt(i)
    if (c === minus || c === plus) c = text.charCodeAt(++i)
    const digitsFrom = i
    while (c >= zero && c <= nine) c = text.charCodeAt(++i)
    if (i === digitsFrom) return this.#fail(i, 'expected digits in the exponent')
    if (!this.#endsValue(i)) return this.#fail(i, 'expected the number to end here')
    const value = Number(text.slice(from, i))
    if (!Number.isFinite(value)) return this.#fail(from, 'the number is too large')
    this.#at = i
    return { key, type: 'float', value }
  }

  #integer(key: string, from: number, suffixAt: number, unsigned: boolean, negative: boolean): Field | null {
    const digits = suffixAt - from - (negative ? 1 : 0)
    if (digits === 0) return this.#fail(from, 'expected a number')
    if (unsigned && negative) return this.#fail(from, 'an unsigned integer has no sign')
    if (!this.#endsValue(suffixAt + 1)) {
      return this.#fail(suffixAt + 1, 'expected the number to end here')
    }
    const value = BigInt(this.#text.slice(from, suffixAt))
    if (unsigned ? value > largestUnsigned : value > largestInteger || value < smallestInteger) {
      return this.#fail(from, 'the integer is beyond 64 bits')
    }
    this.#at = suffixAt + 1
    return { key, type: unsigned ? 'unsigned' : 'integer', value }
  }

  #string(): string | null {
    const text = this.#text
    const from = this.#at + 1
    let close = text.indexOf('"', from)
    let value = close === -1 ? '' : text.slice(from, close)
    if (close === -1 || value.includes('\\')) {
      close = closingQuote(text, from)
      if (close !== -1) value = text.slice(from, close).replace(/\\(["\\])/g, '$1')
    }
    if (!this.#countLines(from, close === -1 ? text.length : close)) return null
    if (close === -1) return this.#fail(text.length, 'the string is not closed')
    this.#at = close + 1
    if (!this.#endsValue(close + 1)) return this.#fail(close + 1, 'expected the string to end here')
    return value
  }

  /** An endless string is a lost quote: its length is bounded, so that the held text is bounded. */
  #countLines(from: number, to: number): boolean {
    const text = this.#text
    for (let at = text.indexOf('\n', from); at !== -1 && at < to; at = text.indexOf('\n', at + 1)) {
      if (++this.innerNewlines > mostStringLines) break
    }
    if (this.innerNewlines === 0 || (this.innerNewlines <= mostStringLines && to - from <= longestString))
      return true
    this.#fail(
      from - 1,
      `the string is not closed within ${mostStringLines} lines and ${longestString} characters`,
    )
    return false
  }

  #word(key: string): Field | null {
    const from = this.#at
    const match = /[A-Za-z]{0,5}/y
    match.lastIndex = from
    const word = match.exec(this.#text)?.[0] ?? ''
    const value = booleans[word]
    if (value === undefined || !this.#endsValue(from + word.length)) {
      return this.#fail(from, 'expected a number, a quoted string or a boolean')
    }
    this.#at = from + word.length
    return { key, type: 'boolean', value }
  }

  /** Text of the time in nanoseconds, null when the line has none, undefined after a failure. */
  #time(): string | null | undefined {
    const text = this.#text
    let i = this.#at
    let c = text.charCodeAt(i)
    if (c !== space)
      return this.#isLineEnd(i) ? null : this.#failTime(i, 'expected a comma, a time or the line end')
    while (c === space) c = text.charCodeAt(++i)
    if (this.#isLineEnd(i)) {
      this.#at = i
      return null
    }
    const from = i
    if (c === minus) c = text.charCodeAt(++i)
    const digitsFrom = i
    while (c >= zero && c <= nine) c = text.charCodeAt(++i)
    if (i === digitsFrom) return this.#failTime(i, 'expected the time in digits')
    const digits = i - digitsFrom + this.#zeros.length
    const first = text.charCodeAt(digitsFrom)
    let written = text.slice(from, i)
    while (c === space) c = text.charCodeAt(++i)
    if (!this.#isLineEnd(i)) return this.#failTime(i, 'expected the line to end after the time')
    this.#at = i
    if (this.#zeros !== '') written += this.#zeros
    // Fast path: nineteen digits below 9 × 10¹⁸ fit 64 bits, and have no zeros to drop.
    if (digits === 19 && first !== zero && first !== nine) return written
    const time = BigInt(written)
    if (time > largestInteger || time < smallestInteger)
      return this.#failTime(from, 'the time is beyond 64 bits')
    return String(time)
  }

  #comment(start: number, at: number): Found {
    const newlineAt = this.#text.indexOf('\n', at)
    this.#at = newlineAt === -1 ? this.#text.length : newlineAt
    if (this.#text[this.#at - 1] === '\r') this.#at--
    const bad = this.#text.slice(at, this.#at).search(/[\0-\x08\x0a-\x1f\x7f]/)
    if (bad !== -1) {
      this.#fail(at + bad, 'control character in a comment')
      return this.#refusal(start)
    }
    return this.#close('comment', start)
  }

  /** Whether the line ends here: at a newline, a return before one, or the end of the last text. */
  #isLineEnd(at: number): boolean {
    const c = this.#text.charCodeAt(at)
    return c === newline || c === carriageReturn || Number.isNaN(c)
  }

  #endsValue(at: number): boolean {
    const c = this.#text.charCodeAt(at)
    return c === comma || c === space || this.#isLineEnd(at)
  }

  #close(found: Found, start: number): Found {
    const text = this.#text
    let i = this.#at
    if (text.charCodeAt(i) === carriageReturn) i++
    if (i < text.length) {
      if (text.charCodeAt(i) !== newline) {
        this.#fail(this.#at, 'a carriage return without a line end')
        return this.#refusal(start)
      }
      i++
    }
    this.end = i
    return found
  }

  #fail(at: number, cause: string): null {
    this.causeAt = at
    this.cause = cause
    return null
  }

  #failTime(at: number, cause: string): undefined {
    this.causeAt = at
    this.cause = cause
  }

  #refusal(start: number): Found {
    // A failure at the end of the text may come from the cut, not from the line.
    if (!this.#isLast && this.causeAt >= this.#text.length) return 'incomplete'
    const newlineAt = this.#text.indexOf('\n', start)
    this.end = newlineAt === -1 ? this.#text.length : newlineAt + 1
    return 'refused'
  }
}
