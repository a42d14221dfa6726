import { describe, expect, it } from 'vitest'
import type { HoldSpec } from '#analysis/model/system.ts'
import { StageMachine, StageOrderError } from '#dashboard/server/session/stage-machine.ts'

const spec: HoldSpec = {
  id: 'left-feed',
  sections: ['left-feed'],
  shut: [],
  pressurePa: 68_948,
  settleS: 120,
  holdS: 600,
  allow: { kind: 'drop', dropPa: 690 },
  allowSource: null,
  rig: null,
}

describe('StageMachine', () => {
  it('goes pump-up, settle, hold, vent, end and keeps when each began', () => {
    const machine = new StageMachine(spec, 5)
    machine.enter('settle', 65)
    expect(machine.lengthS).toBe(120)
    machine.enter('hold', 185)
    expect(machine.lengthS).toBe(600)
    machine.enter('vent', 785)
    machine.enter('end', 800)
    expect(machine.begun).toEqual({ 'pump-up': 5, settle: 65, hold: 185, vent: 785, end: 800 })
  })

  it('due() ends settling after the planned time and never the hold: only a person vents', () => {
    const machine = new StageMachine(spec, 0)
    machine.enter('settle', 60)
    machine.settling(175, true)
    expect(machine.due(179.9, [68_000])).toBeNull()
    machine.settling(176, false)
    expect(machine.due(181, [68_000])).toBeNull()
    machine.settling(170, true)
    expect(machine.due(180, [68_000])).toBe('hold')
    machine.enter('hold', 180)
    expect(machine.due(10_000, [68_000])).toBeNull()
  })

  it('due() ends the vent when every section stayed under a tenth of the test pressure for 10 s', () => {
    const machine = new StageMachine(spec, 0)
    machine.enter('vent', 100)
    expect(machine.due(101, [60_000, 100])).toBeNull()
    expect(machine.due(105, [5000, 100])).toBeNull()
    expect(machine.due(110, [9000, 100])).toBeNull()
    expect(machine.due(111, [5000, 100])).toBeNull()
    expect(machine.due(120.9, [5000, 100])).toBeNull()
    expect(machine.due(121, [5000, 100])).toBe('end')
  })

  it('startsInS() counts down 10 s before a hold starts without a tap, and not while the pressure is uneven', () => {
    const machine = new StageMachine(spec, 0)
    machine.enter('settle', 60)
    machine.settling(100, true)
    expect(machine.startsInS(100)).toBeNull()
    machine.settling(172, true)
    expect(machine.startsInS(174)).toBe(8)
    machine.settling(300, false)
    expect(machine.startsInS(300)).toBeNull()
    expect(machine.due(300, [68_000])).toBeNull()
    machine.settling(310, true)
    expect(machine.startsInS(312)).toBe(8)
    expect(machine.due(320, [68_000])).toBe('hold')
  })

  it('isAtPressure() is true from half of the test pressure on, also under suction', () => {
    expect(new StageMachine(spec, 0).isAtPressure([0])).toBe(false)
    expect(new StageMachine(spec, 0).isAtPressure([68_948, 30_000])).toBe(false)
    expect(new StageMachine(spec, 0).isAtPressure([68_948, 35_000])).toBe(true)
    expect(new StageMachine({ ...spec, pressurePa: -5000 }, 0).isAtPressure([-4900])).toBe(true)
  })

  it('due() never ends the vent of a section that is not measured', () => {
    const machine = new StageMachine(spec, 0)
    machine.enter('vent', 100)
    expect(machine.due(100_000, [])).toBeNull()
  })

  it('enter() allows venting and giving up at any time and refuses what skips or goes back', () => {
    for (const stage of ['vent', 'end'] as const) {
      for (const before of [[], ['settle'], ['settle', 'hold']] as const) {
        const machine = new StageMachine(spec, 0)
        for (const each of before) machine.enter(each, 1)
        machine.enter(stage, 2)
        expect(machine.stage).toBe(stage)
      }
    }
    const machine = new StageMachine(spec, 0)
    expect(() => machine.enter('hold', 1)).toThrow(StageOrderError)
    machine.enter('settle', 1)
    expect(() => machine.enter('settle', 2)).toThrow(StageOrderError)
    machine.enter('end', 3)
    expect(() => machine.enter('vent', 4)).toThrow(StageOrderError)
  })
})
