import { barometer, thermometer, transducer } from '#ingest/simulator/instruments.ts'
import { seededRandom } from '#ingest/simulator/random.ts'
import { molPerPa, Vessel } from '#ingest/simulator/vessel.ts'
import type { Scenario } from './scenario.ts'
import { psiPa, sccPerMinMolPerS } from './units.ts'
import { surroundingsAt } from './weather.ts'

/** What the logger wrote, in the units it writes; a row for each sample. */
export interface LoggerColumns {
  readonly timeMs: number[]
  readonly psi: number[]
  readonly degC: number[] | null
  readonly hPa: number[] | null
}

/** A hold played through: what the logger wrote, and what an observer inside would know. */
export interface PlayedHold {
  readonly columns: LoggerColumns
  /** Flow over p² − pb², [mol/(s·Pa²)]. */
  readonly conductance: number
  /** Means over the hold. */
  readonly gasK: number
  readonly atmospherePa: number
  /** Fall of the true gauge pressure over the hold, all causes together, [Pa]. */
  readonly gaugeFallPa: number
}

/** When each stage begins, seconds from the start. */
export interface StageTimes {
  readonly pumpS: number
  readonly settleS: number
  readonly holdS: number
  readonly ventS: number
  readonly endS: number
}

/** Longest step of the integration while gas flows in or out, and otherwise, [s]. */
const flowStepS = 0.1
const quietStepS = 0.5
/** The regulator closes the gap to its set pressure with this time constant, [s]. */
const regulatorTauS = 1

export function stageTimes({ procedure }: Scenario): StageTimes {
  const pumpS = procedure.beforeS
  const settleS = pumpS + procedure.pumpUpS + procedure.dwellS
  const holdS = settleS + procedure.settleS
  const ventS = holdS + procedure.holdS
  return { pumpS, settleS, holdS, ventS, endS: ventS + procedure.ventS }
}

/** Plays one hold through (atmosphere, pump-up, settle, hold, vent) and reads it with the scenario's instruments. */
export function playHold(scenario: Scenario, seed: number): PlayedHold {
  const { bench } = scenario
  const times = stageTimes(scenario)
  const truth = new HoldTruth(scenario, times)
  const clock = seededRandom(seed, 1)
  const readPressure = transducer(bench.pressure, seededRandom(seed, 2))
  const readTemperature = bench.thermometer && thermometer(bench.thermometer, seededRandom(seed, 3))
  const readBarometer = bench.barometer && barometer(bench.barometer, seededRandom(seed, 4))
  const timeMs: number[] = []
  const psi: number[] = []
  const degC = readTemperature ? ([] as number[]) : null
  const hPa = readBarometer ? ([] as number[]) : null

  const sampleCount = Math.floor(times.endS * bench.sampleHz)
  for (let k = 0; k < sampleCount; k++) {
    const dueS = Math.max(0, k / bench.sampleHz + bench.jitterS * clock.normal())
    const atMs = Math.round(dueS * 1000)
    if (k > 0 && atMs <= timeMs[timeMs.length - 1]) continue
    truth.advanceTo(atMs / 1000)
    const { vessel, timeS, atmospherePa } = truth
    // Every instrument reads every instant, or a lost sample would change its noise later.
    const felt = bench.pressure.kind === 'gauge' ? vessel.absolutePa - atmospherePa : vessel.absolutePa
    const pressurePa = readPressure(felt, timeS)
    const touchedK = bench.thermometer?.touches === 'gas' ? vessel.gasK : vessel.wallK
    const temperatureK = readTemperature?.(touchedK, timeS)
    const barometricPa = readBarometer?.(atmospherePa, timeS)
    if (k > 0 && clock.chance(bench.lostShare)) continue
    timeMs.push(atMs)
    psi.push(Math.round((pressurePa / psiPa) * 1e5) / 1e5)
    if (temperatureK != null) degC?.push(Math.round((temperatureK - 273.15) * 1e4) / 1e4)
    if (barometricPa != null) hPa?.push(Math.round(barometricPa) / 100)
  }
  return { columns: { timeMs, psi, degC, hPa }, ...truth.seenInHold() }
}

/** The section itself and the hands at it; time moves forward by `advanceTo`. */
class HoldTruth {
  readonly vessel: Vessel
  timeS = 0
  readonly #scenario: Scenario
  readonly #times: StageTimes
  readonly #conductance: number
  /** Amount that one pascal of gauge holds at the start, [mol/Pa]. */
  readonly #molPerPa: number
  #gasKS = 0
  #atmospherePaS = 0
  #heldS = 0
  #gaugeAtHoldPa: number | null = null
  #gaugeAtVentPa = 0

  constructor(scenario: Scenario, times: StageTimes) {
    this.#scenario = scenario
    this.#times = times
    this.vessel = new Vessel(scenario.vessel, surroundingsAt(scenario.weather, 0))
    this.#conductance = leakConductance(scenario)
    this.#molPerPa = this.vessel.mol / this.vessel.absolutePa
  }

  get atmospherePa(): number {
    return surroundingsAt(this.#scenario.weather, this.timeS).atmospherePa
  }

  advanceTo(untilS: number): void {
    const { pumpS, settleS, ventS } = this.#times
    const spanS = untilS - this.timeS
    if (spanS <= 0) return
    const flowing = this.timeS < settleS + 1 ? untilS > pumpS - 1 : untilS > ventS - 1
    const steps = Math.max(1, Math.ceil(spanS / (flowing ? flowStepS : quietStepS) - 1e-9))
    for (let i = 0; i < steps; i++) this.#step(spanS / steps)
  }

  seenInHold(): Omit<PlayedHold, 'columns'> {
    return {
      conductance: this.#conductance,
      gasK: this.#gasKS / this.#heldS,
      atmospherePa: this.#atmospherePaS / this.#heldS,
      gaugeFallPa: (this.#gaugeAtHoldPa ?? Number.NaN) - this.#gaugeAtVentPa,
    }
  }

  #step(dtS: number): void {
    this.timeS += dtS
    const { vessel } = this
    const { procedure, weather } = this.#scenario
    const { pumpS, settleS, holdS, ventS } = this.#times
    const at = surroundingsAt(weather, this.timeS)
    const gaugePa = vessel.absolutePa - at.atmospherePa
    let inMolPerS = 0
    let outMolPerS = this.#conductance * (vessel.absolutePa ** 2 - at.atmospherePa ** 2)
    if (this.timeS > pumpS && this.timeS <= settleS) {
      const ramp = Math.min(1, (this.timeS - pumpS) / procedure.pumpUpS)
      const wantedPa = procedure.pressurePsi * psiPa * procedure.pumpTo * ramp
      inMolPerS = Math.max(0, (this.#molPerPa * (wantedPa - gaugePa)) / regulatorTauS)
    } else if (this.timeS > ventS) {
      outMolPerS += (this.#molPerPa * gaugePa) / procedure.ventTauS
    }
    // A section below the atmosphere breathes in.
    if (outMolPerS < 0) {
      inMolPerS -= outMolPerS
      outMolPerS = 0
    }
    vessel.step(dtS, at, inMolPerS, at.roomK, outMolPerS)
    if (this.timeS <= holdS || this.timeS > ventS) return
    this.#gaugeAtHoldPa ??= gaugePa
    this.#gaugeAtVentPa = gaugePa
    this.#gasKS += dtS * vessel.gasK
    this.#atmospherePaS += dtS * at.atmospherePa
    this.#heldS += dtS
  }
}

/** Size of the leak path, [mol/(s·Pa²)], that at the stated test pressure leaks the wanted share of the allowance. */
export function leakConductance(scenario: Scenario): number {
  const { procedure, weather, vessel, leakOverAllowance } = scenario
  const testPa = procedure.pressurePsi * psiPa
  const midS =
    procedure.beforeS + procedure.pumpUpS + procedure.dwellS + procedure.settleS + procedure.holdS / 2
  const at = surroundingsAt(weather, midS)
  const absolutePa = at.atmospherePa + testPa
  const allowedMolPerS =
    procedure.allow.kind === 'leak'
      ? procedure.allow.sccPerMin * sccPerMinMolPerS
      : ((procedure.allow.dropPsi * psiPa) / procedure.holdS) *
        molPerPa(vessel.volumeM3, vessel.stretchPerPa, at.roomK + at.sunK, absolutePa, at.atmospherePa)
  return (leakOverAllowance * allowedMolPerS) / Math.abs(absolutePa ** 2 - at.atmospherePa ** 2)
}
