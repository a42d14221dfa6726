import { describe, expect, it } from 'vitest'
import type { RigStanding } from '#analysis/hunt/rig.ts'
import { phrase } from '#analysis/reasons/phrase.ts'
import { pressurisedBodies } from '#analysis/signal/pressurised-bodies.ts'
import type { HoldStages } from '#analysis/stages/stages-from-pressure.ts'
import { sectionFinding } from '#analysis/verdict/section-findings.ts'
import { allowedPa, atmospherePa, holdS, type Made, madeView, testPa } from '../faults/made-hold.ts'

describe('sectionFinding()', () => {
  const found = (
    parts: Made,
    live = false,
    rig: RigStanding | null = null,
    late: Partial<HoldStages> = {},
  ) => {
    const { recording, system, ...view } = madeView(parts)
    const stages = { ...view, source: 'marks' as const, ...late }
    const [measured] = pressurisedBodies(recording, system, view.spec).measured
    return sectionFinding(recording, system, stages, measured, rig, { live, rehearsal: true })
  }
  const units = { pressure: 'psi', temperature: 'degC', volume: 'L' } as const
  const codesOf = ({ reasons }: ReturnType<typeof found>) =>
    reasons.map((reason) => {
      expect(phrase(reason, units)).not.toMatch(/undefined|NaN/)
      return reason.code
    })
  it('voids suction below 30 kPa absolute: water and sealants give off gas (own figure)', () => {
    const under = (absolutePa: number, live = false) => {
      const pressurePa = absolutePa - atmospherePa
      return found({ spec: { pressurePa }, pa: (_, quiet) => (quiet * pressurePa) / testPa }, live)
    }
    expect(codesOf(under(28_000))).toContain('vacuum-too-deep')
    expect(under(28_000).verdict).toBe('void')
    expect(codesOf(under(32_000))).not.toContain('vacuum-too-deep')
    // Below a vacuum the gauge is wrong, which no look waits for.
    const impossible = under(-4000, true)
    expect([impossible.verdict, codesOf(impossible).at(-1)]).toEqual(['void', 'pressure-implausible'])
  })
  it('gives no figure to fewer than four blocks of a hold, nor to pressures below a vacuum', () => {
    const lasted = (intoS: number) =>
      found({ endS: holdS + intoS + 60, ventS: holdS + intoS, section: { stretchPerPa: 0 } })
    expect(lasted(4).leak).toBeNull()
    expect(lasted(5).leak).not.toBeNull()
    const below = found({ pa: (timeS, quiet) => quiet - (timeS > 300 && timeS < 770 ? 180_000 : 0) })
    expect([below.leak, below.verdict]).toEqual([null, 'void'])
  })
  it('asks a hold that ends before a quarter of its time for the rest of that quarter, and bars no fail', () => {
    const early = (intoS: number, losesPa: number) =>
      found(
        {
          endS: holdS + intoS + 60,
          ventS: holdS + intoS,
          section: { stretchPerPa: 0 },
          spec: { allow: { kind: 'drop', dropPa: 20 * allowedPa } },
          pa: (timeS, quiet) => quiet - (losesPa * Math.max(0, timeS - holdS)) / 600,
        },
        true,
      )
    const short = early(120, 0)
    expect([short.verdict, short.secondsMore]).toEqual(['undecided', 31])
    expect(codesOf(short)).toContain('hold-too-short')
    const leaking = early(120, 400 * allowedPa)
    expect([leaking.verdict, leaking.secondsMore]).toEqual(['fail', null])
    expect(codesOf(early(170, 0))).not.toContain('hold-too-short')
    const near = early(170, 10 * allowedPa)
    expect(near.verdict).toBe('undecided')
    expect(near.secondsMore).toBeGreaterThan(0)
  })
  it('leaves a look without figures undecided where a fault only bars a pass, and void where one voids the hold', () => {
    // The gauge falls far below a vacuum, right at the begin of the hold or in it.
    const look = (fromS: number, live = true) =>
      found({ pa: (timeS, quiet) => quiet - (timeS > fromS ? 180_000 : 0) }, live, null, {
        ventS: null,
        endS: 769,
      })
    const { reasons, verdict, ...nothing } = look(171)
    expect([verdict, reasons.map(({ code }) => code)]).toEqual(['undecided', ['pressure-lost-before-hold']])
    expect(nothing).toMatchObject({
      leak: null,
      allowance: null,
      rawDropPa: null,
      secondsMore: null,
      proof: null,
    })
    expect([nothing.events, nothing.curves, nothing.budget()]).toEqual([[], [], null])
    expect(look(171, false).verdict).toBe('void')
    const voided = look(300)
    expect([voided.verdict, codesOf(voided)]).toEqual(['void', ['let-off-during-hold']])
  })
  it('takes the leak of a proven rig off the sections that it is joined to, and off no other', () => {
    const falling = {
      section: { stretchPerPa: 0 },
      spec: { allow: { kind: 'drop' as const, dropPa: 20 * allowedPa } },
      pa: (timeS: number, quiet: number) => quiet - (timeS < 770 ? 2 * Math.max(0, timeS - holdS) : 0),
    }
    const rig = (id: string, state: RigStanding['state'] = 'proven'): RigStanding => ({
      ...{ rig: id, state, where: 'r', pressurePa: testPa },
      leak: {
        section: id,
        drop_Pa: { value: 0, low: 0, high: 0 },
        mol_per_s: { value: 1e-8, low: 1e-8, high: 1e-8 },
      },
    })
    const of = (standing: RigStanding | null) => {
      const finding = found(falling, false, standing)
      return { leak: finding.leak!.mol_per_s!.value, codes: codesOf(finding) }
    }
    const [whole, less] = [of(null), of(rig('line'))]
    expect(less.leak - whole.leak).toBeCloseTo(-1e-8, 12)
    expect(less.codes).toEqual(expect.arrayContaining(['rig-leak-subtracted']))
    for (const standing of [rig('elsewhere'), rig('line', 'failed')]) expect(of(standing)).toEqual(whole)
  })
})
