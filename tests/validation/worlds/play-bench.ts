import { type Random, seededRandom } from '#ingest/simulator/random.ts'
import { AirAround } from './air-around.ts'
import { BenchInstrument } from './bench-instruments.ts'
import { type BenchFault, type DrawnBench, drawBench, type SectionSort } from './drawn-bench.ts'
import { GasSection, laminarPath, leakOfDrop } from './gas-section.ts'

/** One hold to be played. */
export interface BenchPlan {
  readonly seed: number
  readonly sort: SectionSort
  readonly fault: BenchFault
  /** In multiples of the allowed drop. */
  readonly leak: number
  readonly check?: 'known-leak' | 'known-volume'
  /** The supply's hose is taken off and the port plugged after pump-up, and marked. */
  readonly supplyOff?: boolean
}

export interface PlayedBench {
  readonly system: string
  readonly recording: string
  readonly bench: DrawnBench
  readonly truth: { readonly dropPa: number; readonly molPerS: number; readonly volumeM3: number }
}

const dtS = 0.125
const zeroS = 25
/** The page asks to wait until the gauge stands still at zero. */
const afterVentS = 150
const checkS = 120
const gasConstant = 8.314462618

export function playBench(plan: BenchPlan): PlayedBench {
  const random = seededRandom(plan.seed, 4711)
  const bench = drawBench(random, plan.sort, plan.leak, plan.fault)
  const { hold, testPa } = bench
  const air = new AirAround(bench.story, random)
  const section = new GasSection(bench.section, air)
  const gauge = new BenchInstrument(bench.gauge, random)
  const thermometer = new BenchInstrument(bench.thermometer, random)
  const barometer = bench.barometer && new BenchInstrument(bench.barometer, random)
  const check = drawCheck(random, plan, bench)
  const fault = drawFault(random, plan, bench)
  const ventFlow = laminarPath(
    (testPa * bench.section.volumeM3) / (gasConstant * air.airK) / (plan.sort === 'line' ? 1.5 : 8),
    testPa,
  )
  const filledPa = testPa * (1 + bench.overfill)
  const pumpMolPerS = (filledPa * bench.section.volumeM3 * 1.05) / (gasConstant * air.airK * bench.pumpS)
  const stubTauS = plan.fault === 'hose-clogged' ? fault.clogTauS : 0.15
  const lines: string[] = ['# stillhold recording 1']
  const mark = (text: string): void => void lines.push(`mark,${text} ${ns(air.timeS)}`)
  const stageS = { pump: zeroS, settle: 0, hold: 0, checkOpen: 0, checkShut: 0, vent: 0 }
  let stage: 'zero' | 'pump' | 'settle' | 'hold' | 'vent' = 'zero'
  let cockShut = false
  let stubPa = section.absolutePa
  let stubK = air.airK
  let checkOpen = false
  const every = Math.round(1 / dtS / bench.samplesPerS)
  for (let k = 0; ; k++) {
    const t = air.timeS
    // Who pumps watches the gauge.
    const above = stubPa - air.barometricPa
    if (stage === 'zero' && t >= zeroS) {
      stage = 'pump'
      mark('kind=stage name="pump-up"')
    }
    if (stage === 'pump' && above >= filledPa) {
      stage = 'settle'
      stageS.settle = t
      mark('kind=stage name="settle"')
      if (plan.supplyOff) mark('kind=supply name="off"')
    }
    if (stage === 'settle' && t >= stageS.settle + hold.settleS) {
      stage = 'hold'
      stageS.hold = t
      stageS.checkOpen = t + hold.holdS
      stageS.checkShut = stageS.checkOpen + checkS
      stageS.vent = check === null ? stageS.checkOpen : stageS.checkShut + 20
      mark('kind=stage,hold=h1 name="hold"')
    }
    if (stage === 'hold' && check !== null) {
      const open = t >= stageS.checkOpen && t < stageS.checkShut
      if (open !== checkOpen) mark(`kind=check,id=K1 open=${open}`)
      checkOpen = open
      if (plan.check === 'known-volume')
        section.strokeM3 = Math.min(
          check.volumeM3,
          Math.max(0, section.strokeM3 + (open ? 1 : -1) * check.volumeM3 * (dtS / 3)),
        )
    }
    if (stage === 'hold' && t >= stageS.vent) {
      stage = 'vent'
      mark('kind=stage name="vent"')
    }
    if (stage === 'vent' && t >= stageS.vent + afterVentS) break
    const since = t - stageS.settle
    if (plan.fault === 'cock-shut-in-settle' || plan.fault === 'cock-shut-in-hold')
      cockShut = stage === 'settle' || stage === 'hold' ? since >= fault.cockFromS : false

    let flow = 0
    if (stage === 'zero' || stage === 'vent') flow -= ventFlow(section.absolutePa, air.barometricPa)
    if (stage === 'pump') flow += pumpMolPerS
    if (stage === 'settle' || stage === 'hold')
      flow += plan.supplyOff ? 0 : fault.supply(section.absolutePa - air.barometricPa)
    if (checkOpen && plan.check === 'known-leak' && check !== null)
      flow -= check.flow(section.absolutePa, air.barometricPa)
    section.step(dtS, air, flow)

    const stubBefore = stubK
    stubK += ((cockShut ? air.airK : 0.3 * section.gasK + 0.7 * air.airK) - stubK) * (dtS / 12)
    if (cockShut)
      stubPa *= (stubK / stubBefore) * (1 - (fault.stubLeakPerS * dtS * (stubPa - air.barometricPa)) / stubPa)
    else stubPa += (section.absolutePa - stubPa) * (1 - Math.exp(-dtS / stubTauS))
    gauge.feel(stubPa - air.barometricPa, air.airK, dtS)
    const felt = bench.thermometerAir * air.airK + (1 - bench.thermometerAir) * section.skinK
    thermometer.feel(felt, air.airK, dtS)
    barometer?.feel(air.barometricPa, air.airK, dtS)
    air.step(dtS)
    if (k % every === 0) {
      const drift = fault.zeroPaPerS * Math.max(0, t - zeroS)
      const fields = [
        `p1=${(gauge.read(drift) / 1000).toFixed(5)}`,
        `t1=${(thermometer.read() - 273.15).toFixed(4)}`,
        ...(barometer ? [`baro=${(barometer.read() / 100).toFixed(3)}`] : []),
      ]
      lines.push(`logger ${fields.join(',')} ${ns(air.timeS)}`)
    }
  }
  mark('kind=stage name="end"')
  const dropPa = plan.leak * hold.allowPa
  return {
    system: systemText(bench, check),
    recording: `${lines.join('\n')}\n`,
    bench,
    truth: { dropPa, molPerS: bench.section.leakMolPerS, volumeM3: bench.section.volumeM3 },
  }
}

interface Check {
  readonly text: string
  readonly flow: (highPa: number, lowPa: number) => number
  readonly volumeM3: number
}

/** The check that hangs on the section: a capillary of 3 to 8 times the allowed leak, or a syringe, each a little off its stated figure. */
function drawCheck(
  random: Random,
  plan: BenchPlan,
  { hold, statedM3, section, testPa }: DrawnBench,
): Check | null {
  const allowed = (statedM3 * hold.allowPa) / (gasConstant * 293 * hold.holdS)
  const stated = Number(((allowed * random.uniform(3, 8)) / 7.4358389e-7).toPrecision(2))
  const real = stated * 7.4358389e-7 * (1 + random.uniform(-0.05, 0.05))
  const volumeMl = plan.sort === 'line' ? 10 : 60
  if (plan.check === undefined) return null
  const what =
    plan.check === 'known-leak'
      ? `rate: ${stated} scc/min ± 5 % at ${hold.psi} psi`
      : `volume: ${volumeMl} mL ± 1 %`
  return {
    text: `checks:\n  - { id: K1, kind: ${plan.check}, section: s1, ${what} }\n`,
    flow: laminarPath(real, testPa),
    volumeM3: (section.volumeM3 > 0.01 ? 60e-6 : 10e-6) * (1 + random.uniform(-0.01, 0.01)),
  }
}

/** How large the bench's fault is, and when it comes. */
function drawFault(
  random: Random,
  { fault, leak }: BenchPlan,
  { hold, testPa, section, sort, overfill }: DrawnBench,
) {
  const tight = Math.max(leak, 1)
  const allowed = leakOfDrop(section, hold.allowPa, hold.holdS, 293)
  const masks = random.uniform(0.5, 1.1)
  const setPa = testPa * (1 + overfill * random.uniform(0, 1))
  const restoreTauS = random.uniform(3, 300)
  const perPa = section.volumeM3 / (gasConstant * 293 * restoreTauS)
  const supply: Record<string, (abovePa: number) => number> = {
    'supply-seeps': () => allowed * tight * masks,
    'regulator-on': (above) => Math.max(0, perPa * (setPa - above)),
    'needle-open': (above) => (allowed * tight * masks * Math.max(0, 2.5 * testPa - above)) / (1.5 * testPa),
  }
  return {
    cockFromS:
      fault === 'cock-shut-in-settle'
        ? hold.settleS * random.uniform(0.15, 0.95)
        : hold.settleS + hold.holdS * random.uniform(0.02, 0.3),
    stubLeakPerS: random.chance(0.6) ? 0 : (random.uniform(0, 0.6) * hold.allowPa) / hold.holdS / testPa,
    clogTauS: sort === 'line' ? random.uniform(4, 60) : random.uniform(20, 200),
    zeroPaPerS:
      fault === 'zero-drifts'
        ? (random.pick([-1, 1, 1]) * random.uniform(0.5, 3) * hold.allowPa) / hold.holdS
        : 0,
    supply: supply[fault] ?? (() => 0),
  }
}

function ns(timeS: number): string {
  return String(1_767_225_600_000_000_000n + BigInt(Math.round(timeS * 1e6)) * 1000n)
}

function systemText(
  { sort, hold, statedM3, statedStretchPerBar, barometer }: DrawnBench,
  check: Check | null,
): string {
  const baro =
    '  - { id: baro, measures: barometric-pressure, from: { measurement: logger, field: baro }, unit: hPa }\n'
  const stretch =
    statedStretchPerBar === null ? '' : `, stretch: ${(100 * statedStretchPerBar).toPrecision(3)} % per bar`
  return `stillhold: 1
name: second world
channels:
  - id: p1
    measures: gauge-pressure
    section: s1
    from: { measurement: logger, field: p1 }
    unit: kPa
    range: ${(-0.00002 * hold.spanPa).toFixed(3)} kPa to ${hold.spanPa / 1000} kPa
    accuracy: 0.25 % of span
  - { id: t1, measures: temperature, section: s1, from: { measurement: logger, field: t1 }, unit: degC }
${barometer === null ? '' : baro}sections:
  - { id: s1, kind: ${sort}, medium: air, volume: ${statedM3 * 1000} L ± 10 %, max-pressure: ${1.5 * hold.psi} psi${stretch} }
${check?.text ?? ''}holds:
  - id: h1
    sections: [s1]
    pressure: ${hold.psi} psi
    settle: ${hold.settleS} s
    hold: ${hold.holdS} s
    allow: { drop: ${hold.allowPa} Pa }
`
}
