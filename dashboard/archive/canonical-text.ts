import canonicalize from 'canonicalize'

/**
 * JSON text in canonical form: members sorted by UTF-16 code units, no white space, shortest numbers.
 *
 * Members that are `undefined` are omitted, as in JSON. Any other value without a JSON form (NaN, a function,
 * a bigint, a lone surrogate, `undefined` in an array) is refused by name, since it would be sealed as another value.
 *
 * @throws TypeError naming the member that JSON cannot carry.
 * *Source*: RFC 8785, JSON Canonicalization Scheme.
 */
export function canonicalText(value: unknown): string {
  refuseWhatJsonCannotSay(value, '$')
  return canonicalize(value) as string
}

function refuseWhatJsonCannotSay(value: unknown, path: string): void {
  if (value === null || typeof value === 'boolean') return
  if (typeof value === 'string') {
    if (/\p{Surrogate}/u.test(value)) throw new TypeError(`${path} has half of a surrogate pair`)
    return
  }
  if (typeof value === 'number') {
    if (!Number.isFinite(value)) throw new TypeError(`${path} is ${value}, which JSON cannot say`)
    return
  }
  if (Array.isArray(value)) {
    for (let i = 0; i < value.length; i++) refuseWhatJsonCannotSay(value[i], `${path}[${i}]`)
    return
  }
  if (typeof value === 'object') {
    const prototype = Object.getPrototypeOf(value)
    if (prototype !== Object.prototype && prototype !== null) {
      throw new TypeError(`${path} is a ${prototype.constructor?.name ?? 'class'} object, not plain data`)
    }
    for (const [key, member] of Object.entries(value)) {
      if (/\p{Surrogate}/u.test(key)) throw new TypeError(`${path} has a name with half of a surrogate pair`)
      if (member !== undefined) refuseWhatJsonCannotSay(member, `${path}.${key}`)
    }
    return
  }
  throw new TypeError(`${path} is ${typeof value}, which JSON cannot say`)
}
