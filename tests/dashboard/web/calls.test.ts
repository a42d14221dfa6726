import { describe, expect, test } from 'vitest'
import type { LiveState } from '#dashboard/api.ts'
import { callsOf, changeTune, type Heard } from '#dashboard/web/sound/calls.ts'
import { tunes } from '#dashboard/web/sound/player.ts'

const heard: Heard = { link: 'live', silent: null, isAtPressure: false, isSuction: false }
const state = (hold: object | null, alarms: readonly string[] = []): LiveState =>
  ({
    nowS: 1000,
    alarms: alarms.map((code) => ({ code, message: '' })),
    hold: hold && { hold: 'left', pumpUpS: 1, stageStartedS: 900, stageLengthS: 60, verdict: null, ...hold },
    last: null,
  }) as never
const tunesOf = (...given: Parameters<typeof callsOf>): string[] => callsOf(...given).map(({ tune }) => tune)

describe('callsOf', () => {
  const holding = { stage: 'hold', stageLengthS: 600 }
  // The seven occasions of the issue 'The page that cannot mislead', item 9.
  test.each([
    ['over-pressure', state(null, ['over-pressure']), {}, 'stop'],
    [
      'test pressure reached',
      state({ stage: 'pump-up', stageLengthS: null }),
      { isAtPressure: true },
      'at-pressure',
    ],
    ['settle done', state({ stage: 'settle', settled: { ready: true } }), {}, 'settled'],
    ['decided, pass', state({ ...holding, verdict: 'pass' }), {}, 'pass'],
    ['decided, fail', state({ ...holding, verdict: 'fail' }), {}, 'fail'],
    ['time over', state({ stage: 'hold', stageLengthS: 60 }), {}, 'time-over'],
    ['sensor lost', state(holding), { silent: 'p-left' }, 'sensor-lost'],
    ['logger unplugged', state(holding, ['logger-unplugged']), {}, 'sensor-lost'],
    ['the bench lost from a phone', state(holding), { link: 'lost' } as const, 'sensor-lost'],
    ['pressure lost', state(holding, ['pressure-fell']), {}, 'pressure-lost'],
  ] as const)('callsOf(%s) calls by a tune of its own', (_, now, more, tune) => {
    expect(tunesOf(now, { ...heard, ...more })).toEqual([tune])
  })

  test('callsOf() is silent while nothing is due: pumping, settling, undecided, idle without a logger', () => {
    expect(tunesOf(state({ stage: 'pump-up' }), heard)).toEqual([])
    expect(tunesOf(state({ stage: 'settle', settled: { ready: false } }), heard)).toEqual([])
    expect(tunesOf(state({ ...holding, verdict: 'undecided' }), heard)).toEqual([])
    expect(tunesOf(state(null, ['logger-silent']), heard)).toEqual([])
  })
  test('callsOf() puts over-pressure before all else, and calls no verdict of a server that is not heard', () => {
    const over = state({ ...holding, verdict: 'pass' }, ['over-pressure'])
    expect(tunesOf(over, heard)).toEqual(['stop', 'pass'])
    expect(tunesOf(over, { ...heard, link: 'lost' })).toEqual(['sensor-lost'])
  })
  test('every tune has a rhythm and a pitch of its own', () => {
    expect(new Set(Object.values(tunes).map((tune) => JSON.stringify(tune))).size).toBe(
      Object.keys(tunes).length,
    )
  })
})

describe('changeTune', () => {
  test('changeTune() plays a stage that began and a verdict that was sealed, each once', () => {
    const before = state({ stage: 'pump-up' })
    expect(changeTune(null, before)).toBeNull()
    expect(changeTune(before, before)).toBeNull()
    expect(changeTune(before, state({ stage: 'settle' }))).toBe('stage')
    const sealed = { ...state(null), last: { record: '1', result: { verdict: 'void' } } } as never
    expect(changeTune(before, sealed)).toBe('unsure')
    expect(changeTune(sealed, sealed)).toBeNull()
  })
})
