import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest'
import type { NewMark, Stage, StartHold } from '#dashboard/api.ts'
import { RequestError } from '#dashboard/server/http/request-error.ts'
import type { BenchSession } from '#dashboard/server/session/bench-session.ts'
import { DemoOperator } from '#dashboard/server/session/demo-operator.ts'
import type { DemoStep } from '#ingest/sources/demo-session.ts'

beforeEach(() => {
  vi.useFakeTimers({ toFake: ['setTimeout', 'clearTimeout'] })
})
afterEach(() => {
  vi.useRealTimers()
})

/** A bench that takes 10 s to settle, 60 s to hold, 5 s to vent and 3 s to seal; each poll of the operator is a second. */
function made(steps: readonly DemoStep[]) {
  let nowS: number | null = null
  let hold: { stage: Stage; stageStartedS: number; stageLengthS: number | null } | null = null
  let sealedAtS: number | null = null
  let last: { record: string; result: { verdict: string } } | null = null
  let count = 0
  const hands = {
    atPressure: false,
    look: (id: string) => (id === 'F2' ? 'bubbles' : 'dry') as 'bubbles' | 'dry',
  }
  const calls: [number | null, string, unknown][] = []
  let refuses = false
  const enter = (stage: Stage, stageLengthS: number | null = null) => {
    hold = { stage, stageStartedS: nowS!, stageLengthS }
  }
  const session = {
    get nowS() {
      return nowS
    },
    state: () => ({ hold, nowS, last, sealing: sealedAtS !== null }),
    startHold(order: StartHold) {
      if (refuses) throw new RequestError(409, 'p reads 3 psi before the pump-up')
      calls.push([nowS, 'start', order])
      enter('pump-up')
    },
    enterStage(stage: Stage) {
      calls.push([nowS, 'stage', stage])
      enter(stage)
    },
    mark: (mark: NewMark) => calls.push([nowS, 'mark', mark]),
  }
  const operator = new DemoOperator(session as unknown as BenchSession, hands, steps)
  return {
    ...{ operator, hands, calls },
    refuse: () => {
      refuses = true
    },
    async pass(seconds: number) {
      for (let s = 0; s < seconds; s++) {
        nowS = nowS === null ? 0 : nowS + 1
        const inStageS = hold ? nowS - hold.stageStartedS : 0
        hands.atPressure = hold?.stage === 'pump-up' && inStageS >= 30
        if (hold?.stage === 'settle' && inStageS >= 10) enter('hold', 60)
        if (hold?.stage === 'vent' && inStageS >= 5) {
          hold = null
          sealedAtS = nowS + 3
        }
        if (sealedAtS !== null && nowS >= sealedAtS) {
          sealedAtS = null
          last = { record: `000${++count}-a`, result: { verdict: count === 1 ? 'fail' : 'pass' } }
        }
        await vi.advanceTimersByTimeAsync(50)
      }
    },
  }
}
const steps: readonly DemoStep[] = [
  { kind: 'hold', hold: 'lines', looks: ['F1', 'F2'], says: 'The lines.' },
  { kind: 'work', fitting: 'F2', action: 'retighten', torqueNm: 13.6, says: 'Retightened.' },
  { kind: 'hold', hold: 'lines', looks: [], says: 'The retest.' },
  { kind: 'work', fitting: 'F3', action: 'reseal', torqueNm: null, says: 'Resealed.' },
]
const order = (retests: string | null) => ({
  ...{ hold: 'lines', operator: 'demo', witness: null, retests },
  stateSheet: [
    ...[
      'every opening plugged or capped',
      'relief valve set',
      'eye protection on',
      'no ignition source near',
    ],
  ],
})
const yours = {
  who: 'you',
  says: 'The bench is yours: start a hold, look at fittings, retighten one, try another section.',
}

describe('DemoOperator', () => {
  it('works as a person would: zero, pump-up, settle, hold, looks 8 s apart, vent; a repair; the retest', async () => {
    const { operator, calls, pass } = made(steps)
    expect(operator.show()).toEqual({ who: 'automatic', says: 'Waiting for the first readings.' })
    operator.start()
    operator.start()
    await vi.advanceTimersByTimeAsync(500)
    expect(calls).toEqual([])
    const says: string[] = []
    for (let s = 0; s < 420; s++) {
      await pass(1)
      const { says: now } = operator.show()
      if (says.at(-1) !== now) says.push(now)
    }
    // It sees the first reading at 0 s; a stage that it waits for is seen in the same second.
    expect(calls).toEqual([
      [25, 'start', order(null)],
      [55, 'stage', 'settle'],
      [125, 'mark', { kind: 'look', id: 'F1', fields: { finding: 'dry' } }],
      [133, 'mark', { kind: 'look', id: 'F2', fields: { finding: 'bubbles' } }],
      [141, 'stage', 'vent'],
      [209, 'mark', { kind: 'work', id: 'F2', fields: { action: 'retighten', by: 'demo', torque_Nm: 13.6 } }],
      [254, 'start', order('0001-a')],
      [284, 'stage', 'settle'],
      [354, 'stage', 'vent'],
    ])
    expect(says).toEqual([
      'The lines.',
      'The lines. Settling: the hold starts automatically.',
      'The lines. Holding.',
      'The lines. Still under pressure: inspecting with soap water.',
      'Venting: the gauge must follow, or the hold proves nothing.',
      'Signed and locked as 0001-a: fail.',
      'Retightened.',
      'The retest.',
      'The retest. Settling: the hold starts automatically.',
      'The retest. Holding.',
      'Venting: the gauge must follow, or the hold proves nothing.',
      'Signed and locked as 0002-a: pass.',
      'Resealed.',
    ])
    await pass(30)
    expect(calls.at(-1)).toEqual([
      422,
      'mark',
      { kind: 'work', id: 'F3', fields: { action: 'reseal', by: 'demo' } },
    ])
    expect(operator.show()).toEqual(yours)
    // Started again after its last step it begins with the first.
    operator.start()
    await pass(40)
    expect([operator.show().says, calls.at(-1)![2]]).toEqual(['The lines.', order('0002-a')])
  })

  it('hands over where it is, and goes on with the step that it left', async () => {
    const { operator, calls, pass } = made(steps)
    operator.start()
    await pass(180)
    expect(operator.show().says).toBe('Retightened.')
    const done = operator.handOver()
    await vi.advanceTimersByTimeAsync(50)
    await done
    expect(operator.show()).toEqual(yours)
    const before = calls.length
    await pass(100)
    expect(calls).toHaveLength(before)
    operator.start()
    expect(operator.show().who).toBe('automatic')
    await pass(45)
    expect(calls.at(-1)![2]).toMatchObject({ kind: 'work', id: 'F2' })
  })

  it('leaves the bench to the visitor where a request is refused', async () => {
    const { operator, calls, pass, refuse } = made(steps)
    refuse()
    operator.start()
    await pass(30)
    expect([operator.show(), calls]).toEqual([yours, []])
  })
})
