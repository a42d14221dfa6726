import { surroundingsAt, type Weather } from '#tests/simulator/weather.ts'

/** A line full of fuel as nature knows it. */
export interface LiquidLine {
  readonly volumeM3: number
  /** Inner radius of the line, [m]: heat reaches the fuel by conduction through it. */
  readonly radiusM: number
  /** Air in it before it was pumped up, share of the volume. */
  readonly airShare: number
  /** Growth of the walls: at once, and slowly besides with its time constant, [1/Pa] and [s]. */
  readonly wallPerPa: number
  readonly creepPerPa: number
  readonly creepTauS: number
  /** Time constant with which the air goes into solution, [s]; infinity: it does not. */
  readonly solutionTauS: number
  /** Volume growth of the walls with temperature, [1/K]. */
  readonly wallPerK: number
  /** Expansion of the fuel at 15 °C, [1/K], and its own growth, [1/K²]; compressibility, [1/Pa]; heat capacity, [J/(m³·K)]. */
  readonly fuelPerK: number
  readonly fuelPerK2: number
  readonly fuelPerPa: number
  readonly heatJPerM3K: number
  /** The two stretches of the line: share of its volume, time constant toward the room, share of the sun. */
  readonly stretches: readonly { readonly share: number; readonly wallTauS: number; readonly sun: number }[]
}

const shells = 5
/** Thermal diffusivity of fuels, [m²/s]. Source: from memory, common tables. */
const diffusivity = 8e-8
const baseK = 288.15
const gasConstant = 8.31446261815324
/** Air bubbles are small and take their surroundings' temperature at once, [s]. */
const bubbleTauS = 2

/**
 * A line full of fuel followed through time: heat by conduction in shells of the fuel, for each of two stretches of the line;
 * fuel, air and walls fill each other at every step.
 *
 *   Σ fuel(T, p) + n R T_air/p = V (1 + κ g + creep + α_wall ΔT)
 *
 * Own linear laws of expansion and compression: nothing of the analysis is used.
 * *Holds for* small changes of temperature and pressures of a few bar.
 */
export class LiquidWorld {
  gaugePa = 0
  readonly #line: LiquidLine
  readonly #weather: Weather
  readonly #wallK: number[]
  readonly #fuelK: Float64Array[]
  /** Volume that the fuel would fill at 15 °C and no gauge pressure, [m³]. */
  #fuelM3: number
  #airMol: number
  #airK: number
  #creep = 0
  readonly #startK: number
  readonly #conductance: number[]
  #timeS = 0

  constructor(line: LiquidLine, weather: Weather) {
    this.#line = line
    this.#weather = weather
    const at = surroundingsAt(weather, 0)
    this.#startK = at.roomK + at.sunK
    this.#wallK = line.stretches.map(() => this.#startK)
    this.#fuelK = line.stretches.map(() => new Float64Array(shells).fill(this.#startK))
    this.#airK = this.#startK
    this.#airMol = (at.atmospherePa * line.airShare * line.volumeM3) / (gasConstant * this.#startK)
    this.#fuelM3 = (line.volumeM3 * (1 - line.airShare)) / this.#grown(this.#startK, 0)
    // Shells of equal volume; conductance between their middles over the heat of one shell, [1/s].
    const edge = (k: number) => line.radiusM * Math.sqrt(k / shells)
    const middle = (k: number) => line.radiusM * Math.sqrt((k + 0.5) / shells)
    this.#conductance = Array.from({ length: shells }, (_, k) => {
      const outer = k + 1 < shells ? middle(k + 1) : edge(shells)
      return (2 * diffusivity * edge(k + 1) * shells) / ((outer - middle(k)) * line.radiusM ** 2)
    })
  }

  get atmospherePa(): number {
    return surroundingsAt(this.#weather, this.#timeS).atmospherePa
  }

  /** Wall of the first stretch, where the thermometer sits, [K]. */
  get wallK(): number {
    return this.#wallK[0]
  }

  /** Relative volume that yields for each pascal at the present state: what a leak is divided by, [1/Pa]. */
  get compliancePerPa(): number {
    const { volumeM3, wallPerPa, fuelPerPa } = this.#line
    const absolutePa = this.gaugePa + this.atmospherePa
    const air = (this.#airMol * gasConstant * this.#airK) / absolutePa / volumeM3
    return (1 - air) * fuelPerPa + air / absolutePa + wallPerPa
  }

  /** The air's part of it, [1/Pa]. */
  get airYieldPerPa(): number {
    const absolutePa = this.gaugePa + this.atmospherePa
    return (this.#airMol * gasConstant * this.#airK) / absolutePa ** 2 / this.#line.volumeM3
  }

  /** Advances by `dtS` while `inM3` of fuel comes in (negative: goes out), at 15 °C and no pressure. */
  step(dtS: number, inM3: number): void {
    this.#timeS += dtS
    const line = this.#line
    const at = surroundingsAt(this.#weather, this.#timeS)
    this.#fuelM3 += inM3
    line.stretches.forEach(({ wallTauS, sun }, s) => {
      this.#wallK[s] += -Math.expm1(-dtS / wallTauS) * (at.roomK + sun * at.sunK - this.#wallK[s])
    })
    this.#fuelK.forEach((kelvin, s) => {
      const flow = this.#conductance.map(
        (g, k) => g * dtS * ((k + 1 < shells ? kelvin[k + 1] : this.#wallK[s]) - kelvin[k]),
      )
      for (let k = 0; k < shells; k++) kelvin[k] += flow[k] - (k > 0 ? flow[k - 1] : 0)
    })
    this.#airK += (this.#meanK() - this.#airK) * -Math.expm1(-dtS / bubbleTauS)
    if (this.gaugePa > 0) this.#airMol *= Math.exp(-dtS / line.solutionTauS)
    this.#creep += -Math.expm1(-dtS / line.creepTauS) * (line.creepPerPa * this.gaugePa - this.#creep)
    const before = this.gaugePa
    this.#balance(at.atmospherePa)
    // compression warms fuel (α T/ρc) and air (2/7 of its relative change)
    const risePa = this.gaugePa - before
    for (const kelvin of this.#fuelK)
      for (let k = 0; k < shells; k++) kelvin[k] += (line.fuelPerK * kelvin[k] * risePa) / line.heatJPerM3K
    this.#airK *= 1 + (2 / 7) * (risePa / (this.gaugePa + at.atmospherePa))
  }

  #meanK(): number {
    return this.#line.stretches.reduce(
      (sum, { share }, s) => sum + (share * this.#fuelK[s].reduce((a, b) => a + b)) / shells,
      0,
    )
  }

  #grown(kelvin: number, gaugePa: number): number {
    const { fuelPerK, fuelPerK2, fuelPerPa } = this.#line
    const warmer = kelvin - baseK
    return Math.exp(fuelPerK * warmer + 0.5 * fuelPerK2 * warmer * warmer) * (1 - fuelPerPa * gaugePa)
  }

  /** Newton's steps to the pressure at which everything fits. */
  #balance(atmospherePa: number): void {
    const { volumeM3, wallPerPa, wallPerK, fuelPerPa, stretches } = this.#line
    const warmth = stretches.reduce(
      (sum, { share }, s) =>
        sum + (share * this.#fuelK[s].reduce((total, kelvin) => total + this.#grown(kelvin, 0), 0)) / shells,
      0,
    )
    const fuelM3 = this.#fuelM3 * warmth
    const wallK = stretches.reduce((sum, { share }, s) => sum + share * this.#wallK[s], 0)
    const rest = volumeM3 * (1 + this.#creep + wallPerK * (wallK - this.#startK))
    let gaugePa = this.gaugePa
    for (let i = 0; i < 20; i++) {
      const absolutePa = gaugePa + atmospherePa
      const air = (this.#airMol * gasConstant * this.#airK) / absolutePa
      const over = fuelM3 * (1 - fuelPerPa * gaugePa) + air - rest - volumeM3 * wallPerPa * gaugePa
      const step = over / (fuelM3 * fuelPerPa + air / absolutePa + volumeM3 * wallPerPa)
      const next = Math.max(0.2 * atmospherePa - atmospherePa, gaugePa + step)
      if (Math.abs(next - gaugePa) < 1e-6) break
      gaugePa = next
    }
    this.gaugePa = gaugePa
  }
}
