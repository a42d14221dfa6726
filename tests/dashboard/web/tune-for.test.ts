import { describe, expect, test } from 'vitest'
import type { LiveState } from '#dashboard/api.ts'
import { tuneFor } from '#dashboard/web/live/tune-for.ts'

const state = (parts: object): LiveState => ({ alarms: [], hold: null, last: null, ...parts }) as never
const holding = (stage: string) => ({ hold: { stage } })
const sealed = (record: string, verdict: string) => ({ last: { record, result: { verdict } } })
const stop = (code: string) => ({ alarms: [{ code, message: '' }] })

describe('tuneFor', () => {
  test('tuneFor() is silent on the first state and while nothing changes', () => {
    expect(tuneFor(null, state(holding('hold')))).toBeNull()
    expect(tuneFor(state(holding('hold')), state(holding('hold')))).toBeNull()
  })
  test('tuneFor() plays when a stage begins', () => {
    expect(tuneFor(state(holding('settle')), state(holding('hold')))).toBe('stage')
    expect(tuneFor(state({}), state(holding('pump-up')))).toBe('stage')
  })
  test('tuneFor() plays each verdict apart: a pass, a fail, and what proves nothing', () => {
    const before = state({ ...holding('vent') })
    expect(tuneFor(before, state(sealed('1', 'pass')))).toBe('pass')
    expect(tuneFor(before, state(sealed('1', 'fail')))).toBe('fail')
    expect(tuneFor(before, state(sealed('1', 'void')))).toBe('unsure')
    expect(tuneFor(before, state(sealed('1', 'undecided')))).toBe('unsure')
    expect(tuneFor(state(sealed('1', 'pass')), state(sealed('1', 'pass')))).toBeNull()
  })
  for (const code of ['over-pressure', 'ramp-too-fast'] as const) {
    test(`tuneFor() calls stop when ${code} begins, before any other tune, and again only when it came back`, () => {
      const over = state({ ...holding('hold'), ...stop(code) })
      expect(tuneFor(state(holding('pump-up')), over)).toBe('stop')
      expect(tuneFor(over, over)).toBeNull()
      expect(tuneFor(state(holding('hold')), over)).toBe('stop')
    })
  }
})
