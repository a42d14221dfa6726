import { describe, expect, it } from 'vitest'
import { liquidCaution } from '#analysis/faults/liquid-caution.ts'
import { fullLine, steepestPaPerK, strokesOf } from '#analysis/fit/full-line.ts'
import { gasHold } from '#analysis/fit/gas-rows.ts'
import type { Channel, System } from '#analysis/model/system.ts'
import { phrase } from '#analysis/reasons/phrase.ts'
import { pressureSignal } from '#analysis/signal/pressure-signal.ts'
import { holdStages } from '#analysis/stages/hold-stages.ts'
import { guardBanded } from '#analysis/verdict/hold-verdict.ts'
import { liquidFinding } from '#analysis/verdict/liquid-finding.ts'
import { type LiquidBench, liquidRecording } from './liquid-bench.ts'

const volumeM3 = 0.35e-3
const toleranceM3 = 0.035e-3
/** 0.01 mL/min, a fifth of a drop. */
const allowM3PerS = 0.01e-6 / 60

function channel(id: string, measures: Channel['measures'], section: string | null): Channel {
  return {
    id,
    measures,
    section,
    from: { measurement: 'logger', field: id, tags: {} },
    unit: 'Pa',
    scale: null,
    rangeSi: null,
    resolutionSi: null,
    accuracySi: null,
    calibration: null,
  }
}

const system: System = {
  name: 'wet line',
  sccReferenceK: 273.15,
  channels: [
    channel('p', 'gauge-pressure', 'feed'),
    channel('t', 'temperature', 'feed'),
    channel('baro', 'barometric-pressure', null),
  ],
  sections: [
    {
      id: 'feed',
      medium: 'avgas',
      volumeM3,
      volumeToleranceM3: toleranceM3,
      maxPressurePa: 103_421,
      maxVacuumPa: null,
      stretchPerPa: null,
      kind: 'line',
      capacityM3: null,
      unusableM3: null,
    },
  ],
  fittings: [],
  valves: [],
  holds: [
    {
      id: 'wet',
      sections: ['feed'],
      shut: [],
      pressurePa: 68_948,
      settleS: 120,
      holdS: 600,
      allow: { kind: 'liquid-leak', m3PerS: allowM3PerS },
      allowSource: null,
      rig: null,
    },
  ],
}

const steady: LiquidBench = {
  fuel: 'avgas',
  density15KgM3: 718,
  volumeM3,
  airM3: 2e-6,
  wallPerPa: 1e-9,
  pumpedPa: 68_948,
  leakM3PerS: 0,
  fuelLagS: 30,
  outsideK: () => 293.15,
  thermometerStdK: 0.02,
  gaugeStdPa: 50,
  gaugeStepPa: 20,
  rateHz: 5,
  settleS: 120,
  holdS: 600,
  stroke: { atS: 60, volumeM3: 0.1e-6 },
  seed: 1,
}

function found(bench: LiquidBench) {
  const recording = liquidRecording(bench)
  const [stages] = holdStages(recording, system)
  const signal = pressureSignal(recording, system, { sections: ['feed'] })!
  const untilS = stages.ventS! - 1
  const hold = gasHold(recording, system, stages, signal, ['feed'], untilS)!
  const measured = { section: system.sections[0], signal, joined: ['feed'], volumeM3, toleranceM3 }
  const finding = liquidFinding(recording, stages, measured, hold, 1, false)!
  return { ...finding, verdict: guardBanded(finding.judged, finding.allowed) }
}

const situations: readonly [name: string, bench: Partial<LiquidBench>][] = [
  ['steady', {}],
  ['warming by 2 K an hour', { outsideK: (t) => 293.15 + (2 * t) / 3600 }],
  ['swinging by 0.3 K', { outsideK: (t) => 293.15 + 0.3 * Math.sin(t / 200) }],
  ['with five times the air', { airM3: 10e-6 }],
  ['without air in a soft line', { airM3: 0, wallPerPa: 5e-9 }],
  ['without a stroke', { stroke: null }],
  ['without a stroke, warming', { stroke: null, outsideK: (t) => 293.15 + (2 * t) / 3600 }],
]

describe('liquidFinding on an independent simulation (integrated mass and heat, seeded)', () => {
  for (const [name, change] of situations) {
    it(`${name}: the interval covers the leak at 0, 1 and 2 times the allowance, and neither passes wrongly`, () => {
      let covered = 0
      let runs = 0
      for (const times of [0, 1, 2]) {
        for (const seed of [11, 23, 47]) {
          const bench = { ...steady, ...change, leakM3PerS: times * allowM3PerS, seed: seed + times }
          const { leak, verdict } = found(bench)
          const { low, high } = leak!.mL_per_min!
          runs++
          if (low <= times * 0.01 && times * 0.01 <= high) covered++
          if (times >= 1) expect(verdict).not.toBe('pass')
          if (times === 0) expect(verdict).not.toBe('fail')
        }
      }
      expect(covered / runs).toBeGreaterThanOrEqual(8 / 9)
    })
  }

  it('a known stroke decides: tight passes, twice the allowance fails', () => {
    expect(found(steady).verdict).toBe('pass')
    expect(found({ ...steady, leakM3PerS: 2 * allowM3PerS }).verdict).toBe('fail')
  })
  it('without a stroke it stays undecided and says what would help', () => {
    const finding = found({ ...steady, stroke: null, leakM3PerS: 0.5 * allowM3PerS })
    expect(finding.verdict).toBe('undecided')
    expect(finding.reasons.map((reason) => reason.code)).toContain('liquid-stiffness-unknown')
  })
  it('a stroke measures the stiffness: a millilitre a minute is worth its drop within 6 % (simulated balance)', () => {
    for (const change of [{}, { airM3: 10e-6, stroke: { atS: 60, volumeM3: 0.3e-6 } }]) {
      const bench = { ...steady, ...change, leakM3PerS: 0.5 * allowM3PerS }
      const [before, after] = [0, 1e-8].map((more) => {
        const pushed = { ...bench, leakM3PerS: 0, gaugeStdPa: 0, gaugeStepPa: 0, seed: 5 }
        const { timeS, reading } = liquidRecording({
          ...pushed,
          stroke: { atS: 60, volumeM3: more },
        }).channels[0]
        return reading[timeS.findIndex((t) => t > 400)]
      })
      const paPerM3 = (after - before) / 1e-8
      const { drop_Pa, mL_per_min } = found(bench).allowance
      expect(drop_Pa / ((mL_per_min! / 60e6) * 600) / paPerM3).toBeGreaterThan(0.94)
      expect(drop_Pa / ((mL_per_min! / 60e6) * 600) / paPerM3).toBeLessThan(1.06)
    }
  })
  it('the same recording gives the same result twice', () => {
    expect(JSON.stringify(found(steady))).toBe(JSON.stringify(found(steady)))
  })
  it('the leak line and the compensated curve are as long as the hold', () => {
    const curve = found(steady).curves
    expect(curve.compensatedPa.length).toBe(curve.timeS.length)
    expect(curve.leakLinePa.every(Number.isFinite)).toBe(true)
  })
})

describe('fullLine', () => {
  it('0.35 L of avgas loses 2.3 MPa for each millilitre and moves by 1 MPa/K (computed, API MPMS 11.1 at 20 °C)', () => {
    const { leastYieldPerPa, expansionPerK } = fullLine({ stretchPerPa: 0 }, 'avgas', 293.15, 68_948)
    expect(1e-6 / volumeM3 / leastYieldPerPa / 2.3e6).toBeCloseTo(1, 1)
    expect(expansionPerK / leastYieldPerPa / 1e6).toBeCloseTo(1, 1)
  })
})

describe('liquidCaution', () => {
  const units = { pressure: 'psi', temperature: 'degC', volume: 'L' } as const
  it('a full line warns that a fraction of a kelvin passes its max-pressure', () => {
    const caution = liquidCaution(system.sections[0], system.holds[0])!
    expect(caution.code).toBe('liquid-full-overpressure')
    expect(phrase(caution, units)).toMatch(/0\.03\d* °C of warming is enough to exceed its max-pressure/)
    expect(phrase(caution, units)).toContain('Fit a relief valve')
  })
  it('begins with the danger, and says it where no limit is stated and for every fuel', () => {
    for (const medium of ['avgas', 'mogas', 'jet-a'] as const) {
      const caution = liquidCaution({ ...system.sections[0], medium, maxPressurePa: null }, system.holds[0])!
      expect(phrase(caution, units)).toMatch(/^Danger of bursting: feed is closed and full of /)
      expect(phrase(caution, units)).toContain('its max-pressure is not stated')
    }
  })
  it('a rigid line of avgas at 20 °C gains 1.0 MPa/K (computed from API MPMS 11.1)', () => {
    expect(steepestPaPerK({ stretchPerPa: 0 }, 'avgas', 293.15, 0) / 1e6).toBeCloseTo(1.0, 1)
  })
  it('stands in the finding of every liquid hold, tight or not', () => {
    for (const leakM3PerS of [0, 2 * allowM3PerS])
      expect(found({ ...steady, leakM3PerS }).reasons.map(({ code }) => code)).toContain(
        'liquid-full-overpressure',
      )
  })
  it('stated stretch softens the warning, gas needs none', () => {
    const soft = { stretchPerPa: 1e-7 }
    expect(steepestPaPerK(soft, 'avgas', 293.15, 0)).toBeLessThan(2e4)
    expect(liquidCaution({ ...system.sections[0], medium: 'air' }, system.holds[0])).toBeNull()
  })
})

describe('strokesOf', () => {
  const recording = liquidRecording(steady)
  const { timeS, reading } = recording.channels[0]
  it('reads the rise that 0.1 mL made, 13.6 kPa (the simulated balance)', () => {
    const [stroke] = strokesOf(recording.marks, timeS, reading, 20, 740)
    expect(stroke.volumeM3).toBeCloseTo(1e-7, 15)
    expect((stroke.afterPa - stroke.beforePa) / 13_650).toBeCloseTo(1, 1)
  })
  it('leaves out strokes without a volume, without samples or against the pressure', () => {
    const marks = recording.marks.map((mark) =>
      mark.kind === 'stroke' ? { ...mark, fields: { volume_mL: -0.1 } } : mark,
    )
    expect(strokesOf(marks, timeS, reading, 20, 740)).toEqual([])
    expect(strokesOf(recording.marks, timeS.slice(0, 3), reading.slice(0, 3), 20, 740)).toEqual([])
    const empty = recording.marks.map((mark) => (mark.kind === 'stroke' ? { ...mark, fields: {} } : mark))
    expect(strokesOf(empty, timeS, reading, 20, 740)).toEqual([])
  })
})
