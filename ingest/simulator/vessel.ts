/** Molar gas constant, [J/(mol·K)], exact since the SI of 2019. */
const gasConstant = 8.31446261815324
/** Molar heat capacity of air at constant volume, diatomic ideal gas (γ = 1.4), [J/(mol·K)]. */
const heatCapacityVolume = 2.5 * gasConstant
const heatCapacityPressure = 3.5 * gasConstant

/** True physical properties of a section, unknown to the analysis. */
export interface VesselSpec {
  /** Volume at zero gauge pressure, [m³]. */
  readonly volumeM3: number
  /** Immediate growth of the volume with gauge pressure, [1/Pa]. */
  readonly stretchPerPa: number
  /** Creep: further slow growth, [1/Pa], and its time constant, [s]. */
  readonly creepPerPa: number
  readonly creepTauS: number
  /** Time constant of the gas toward the wall, [s]. */
  readonly gasTauS: number
  /** 0: heat flow proportional to the difference; 0.25: natural convection, flow ∝ difference^1.25. */
  readonly convectionExponent: number
  /** Time constant of the wall toward the room, [s]. */
  readonly wallTauS: number
  /** Heat capacity of the wall, [J/K]. */
  readonly wallHeatJPerK: number
}

/** Environment of a vessel at one moment. */
export interface Surroundings {
  readonly roomK: number
  /** Temperature that the sun adds to the equilibrium of the wall, [K]. */
  readonly sunK: number
  readonly atmospherePa: number
}

/** Room, sun and atmosphere over a session; times count from the start of the recording. */
export type Weather = (timeS: number) => Surroundings

/**
 * A section full of air, integrated in time by its balances of amount and energy:
 *
 *   dn/dt = in − out
 *   n·cv·dT/dt = in·(cp·Tin − cv·T) − out·R·T − p·dV/dt + G·(Twall − T)
 *   Cwall·dTwall/dt = −G·(Twall − T) + Cwall·(Troom + sun − Twall)/τwall
 *   V = V₀·(1 + κ·(p − pb) + s),  ds/dt = (κc·(p − pb) − s)/τc,  p·V = n·R·T
 *
 * Time steps are implicit for heat exchange and explicit for flows.
 * *Holds for* dry air as an ideal gas with γ = 1.4, gas well mixed, pressures of a few bar.
 * *Check*: an adiabatic fill loses 2/7 of the pressure added once it has cooled (method, section 1).
 */
export class Vessel {
  readonly spec: VesselSpec
  mol: number
  gasK: number
  wallK: number
  absolutePa: number
  volumeM3: number
  #creep = 0
  #volumeRateM3PerS = 0

  constructor(spec: VesselSpec, at: Surroundings) {
    this.spec = spec
    this.gasK = at.roomK + at.sunK
    this.wallK = this.gasK
    this.absolutePa = at.atmospherePa
    this.volumeM3 = spec.volumeM3
    this.mol = (this.absolutePa * this.volumeM3) / (gasConstant * this.gasK)
  }

  /** Advances by `dtS` with the given flows, [mol/s], both ≥ 0. */
  step(dtS: number, at: Surroundings, inMolPerS: number, inK: number, outMolPerS: number): void {
    const { spec } = this
    const difference = Math.abs(this.wallK - this.gasK)
    const convection =
      spec.convectionExponent === 0 ? 1 : Math.max(difference, 0.05) ** spec.convectionExponent
    const heat = this.mol * heatCapacityVolume
    const exchangeWPerK = (heat / spec.gasTauS) * convection
    const powerW =
      inMolPerS * (heatCapacityPressure * inK - heatCapacityVolume * this.gasK) -
      outMolPerS * gasConstant * this.gasK -
      this.absolutePa * this.#volumeRateM3PerS
    const gasShare = (dtS * exchangeWPerK) / heat
    const wallShare = (dtS * exchangeWPerK) / spec.wallHeatJPerK
    const roomShare = dtS / spec.wallTauS
    // Two linear equations for the temperatures at the end of the step.
    const gasRight = this.gasK + (dtS * powerW) / heat
    const wallRight = this.wallK + roomShare * (at.roomK + at.sunK)
    const gasDiagonal = 1 + gasShare
    const wallDiagonal = 1 + wallShare + roomShare
    const determinant = gasDiagonal * wallDiagonal - gasShare * wallShare
    this.gasK = (gasRight * wallDiagonal + gasShare * wallRight) / determinant
    this.wallK = (gasDiagonal * wallRight + wallShare * gasRight) / determinant
    this.mol += dtS * (inMolPerS - outMolPerS)

    const gaugePa = this.absolutePa - at.atmospherePa
    const creepShare = dtS / spec.creepTauS
    this.#creep = (this.#creep + creepShare * spec.creepPerPa * gaugePa) / (1 + creepShare)
    this.absolutePa = this.#pressure(at.atmospherePa)
    const volumeM3 =
      spec.volumeM3 * (1 + spec.stretchPerPa * (this.absolutePa - at.atmospherePa) + this.#creep)
    this.#volumeRateM3PerS = (volumeM3 - this.volumeM3) / dtS
    this.volumeM3 = volumeM3
  }

  /** Positive root of κp² + (1 + s − κpb)p = nRT/V₀, in the form without cancellation. */
  #pressure(atmospherePa: number): number {
    const { stretchPerPa, volumeM3 } = this.spec
    const rigidPa = (this.mol * gasConstant * this.gasK) / volumeM3
    const b = 1 + this.#creep - stretchPerPa * atmospherePa
    if (stretchPerPa === 0) return rigidPa / b
    const root = Math.sqrt(b * b + 4 * stretchPerPa * rigidPa)
    return b >= 0 ? (2 * rigidPa) / (b + root) : (root - b) / (2 * stretchPerPa)
  }
}

/**
 * Amount per pascal at absolute pressure p: dn/dp = (V₀/RT)·(1 + κ·(2p − pb)), [mol/Pa].
 * *Source*: method, section 2.
 */
export function molPerPa(
  volumeM3: number,
  stretchPerPa: number,
  temperatureK: number,
  absolutePa: number,
  atmospherePa: number,
): number {
  return (volumeM3 / (gasConstant * temperatureK)) * (1 + stretchPerPa * (2 * absolutePa - atmospherePa))
}
