import { describe, expect, it } from 'vitest'
import type { Estimate, SectionLeak } from '#analysis/model/hold-result.ts'
import type { Allowance } from '#analysis/model/system.ts'
import type { HoldStages } from '#analysis/stages/stages-from-pressure.ts'
import type { FittedSection } from '#analysis/verdict/fitted-section.ts'
import { lessRig } from '#analysis/verdict/fitted-section.ts'
import { holdSpec } from '#tests/analysis/hunt/made-system.ts'

const pressurePa = 68_947.57
const about = (value: number, half: number): Estimate => ({ value, low: value - half, high: value + half })

function fitted(leak: SectionLeak, judged: Estimate): FittedSection {
  return { leak, judged, reasons: [] } as unknown as FittedSection
}
const stages = (allow: Allowance) => ({ spec: holdSpec('feed', ['feed'], [], { allow }) }) as HoldStages
const rig = (state: 'proven' | 'failed' | 'unproven', leak: SectionLeak) => {
  return { rig: 'rig', state, where: '0001-rig', leak, pressurePa }
}

const gas = (molPerS: Estimate): SectionLeak => ({
  section: 'feed',
  mol_per_s: molPerS,
  drop_Pa: about(600, 60),
})
const section = gas(about(6e-7, 3e-8))
const ofRig = gas(about(2e-7, 4e-8))

describe('lessRig(section 6e-7 ± 3e-8 mol/s, rig 2e-7 ± 4e-8)', () => {
  it('judges 4e-7 ± 5e-8 of a gas allowance: quadrature, 3 and 4 make 5 (computed by hand)', () => {
    const of = stages({ kind: 'gas-leak', molPerS: 1e-7 })
    const { judged, reasons } = lessRig(fitted(section, about(6e-7, 3e-8)), rig('proven', ofRig), of)
    expect(judged.value).toBeCloseTo(4e-7, 15)
    expect(judged.high).toBeCloseTo(4.5e-7, 15)
    expect(judged.low).toBeCloseTo(3.5e-7, 15)
    expect(reasons.map(({ code }) => code)).toEqual(['rig-leak-subtracted'])
  })

  it('judges a drop by as much as the leak became less: 600 Pa become 400 Pa', () => {
    const of = stages({ kind: 'drop', dropPa: 700 })
    expect(lessRig(fitted(section, about(600, 60)), rig('proven', ofRig), of).judged.value).toBeCloseTo(
      400,
      9,
    )
  })

  it('judges a liquid in m³/s: 3 mL/min less 1 mL/min are 2 of 6e7 (computed by hand)', () => {
    const liquid = (mLPerMin: Estimate): SectionLeak => ({
      section: 'feed',
      mL_per_min: mLPerMin,
      drop_Pa: about(600, 60),
    })
    const of = stages({ kind: 'liquid-leak', m3PerS: 1e-8 })
    const proven = rig('proven', liquid(about(1, 0.4)))
    const { judged } = lessRig(fitted(liquid(about(3, 0.3)), about(5e-8, 5e-9)), proven, of)
    expect(judged.value).toBeCloseTo(2 / 6e7, 15)
    expect(judged.high - judged.value).toBeCloseTo(0.5 / 6e7, 15)
  })

  it.each(['failed', 'unproven'] as const)(
    'takes nothing off for a rig that is %s: what it leaked may be gone',
    (state) => {
      const before = fitted(section, about(6e-7, 3e-8))
      const after = lessRig(before, rig(state, ofRig), stages({ kind: 'gas-leak', molPerS: 1e-7 }))
      expect(after).toBe(before)
    },
  )
})
