import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { canonicalText } from '#dashboard/archive/canonical-text.ts'

describe('canonicalText', () => {
  it('canonicalText(value) writes the example of RFC 8785 section 3.2.2 as its section 3.2.3 prints it', () => {
    const value = {
      numbers: [Number('333333333.33333329'), 1e30, 4.5, 2e-3, 0.000000000000000000000000001],
      string: '\u20ac$\u000F\u000aA\'\u0042\u0022\u005c\\"/',
      literals: [null, true, false],
    }
    expect(canonicalText(value)).toBe(
      '{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],' +
        '"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}',
    )
  })

  it('canonicalText(value) sorts names by UTF-16 code units, RFC 8785 section 3.2.3 sorting example', () => {
    const value = { '\u20ac': 1, '\r': 2, '\ufb33': 3, '1': 4, '\ud83d\ude00': 5, '\u0080': 6, '\u00f6': 7 }
    expect(Object.values(JSON.parse(canonicalText(value)))).toEqual([4, 2, 6, 7, 1, 5, 3])
  })

  it('canonicalText(parsed) is the same text again for any JSON', () => {
    fc.assert(
      fc.property(fc.jsonValue(), (value) => {
        const text = canonicalText(value)
        expect(canonicalText(JSON.parse(text))).toBe(text)
      }),
    )
  })

  it('canonicalText(value) refuses by name what JSON would write as something else', () => {
    expect(() => canonicalText({ a: [1, undefined] })).toThrow('$.a[1] is undefined, which JSON cannot say')
    expect(() => canonicalText({ a: { b: Number.POSITIVE_INFINITY } })).toThrow('$.a.b is Infinity')
    expect(() => canonicalText({ a: 1n })).toThrow('$.a is bigint, which JSON cannot say')
    expect(() => canonicalText({ a: new Float64Array(1) })).toThrow(
      '$.a is a Float64Array object, not plain data',
    )
    expect(() => canonicalText({ a: '\ud800' })).toThrow('$.a has half of a surrogate pair')
  })

  it('canonicalText(value) leaves out undefined members, as JSON does', () => {
    expect(canonicalText({ a: undefined, b: 1 })).toBe('{"b":1}')
  })
})
