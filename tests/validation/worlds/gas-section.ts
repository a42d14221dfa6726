import type { AirAround } from './air-around.ts'

const gasConstant = 8.314462618
const cvMolar = 2.5 * gasConstant
const cpMolar = 3.5 * gasConstant

/** One closed section: gas between a thin skin and a heavy structure, in a room. */
export interface SectionBuild {
  /** True volume at zero gauge pressure and the starting temperature, [m³]. */
  readonly volumeM3: number
  /** Elastic growth of the volume, [1/Pa] of gauge pressure. */
  readonly stretchPerPa: number
  /** Growth that follows the load late, as shares of the elastic growth with their time constants. */
  readonly creep: readonly { readonly share: number; readonly tauS: number }[]
  /** Gas to skin at a difference of 1 K, [s]; convection makes it faster as |ΔT|^exponent. */
  readonly gasTauS: number
  readonly convectionExponent: number
  /** Heat capacity of the skin over that of the gas. */
  readonly skinOverGas: number
  readonly skinTauS: number
  readonly structureTauS: number
  /** Exchange between skin and structure, [s], as felt by the skin. */
  readonly skinStructureTauS: number
  /** Fuel left in the section: what its vapour adds when saturated at the start, [Pa]; 0 for a dry one. */
  readonly vaporPa: number
  readonly vaporTauS: number
  /** Share of saturation when the session begins. */
  readonly vaporStart: number
  /** Leak at the test pressure with a steady atmosphere, [mol/s], and its laminar share (the rest a small orifice). */
  readonly leakMolPerS: number
  readonly laminarShare: number
  readonly testPa: number
}

export class GasSection {
  moles: number
  gasK: number
  skinK: number
  structureK: number
  absolutePa: number
  /** Volume that a plunger has taken away, [m³]. */
  strokeM3 = 0
  private vaporPa: number
  private lastM3: number
  private readonly crept: number[]
  private readonly startK: number
  private readonly gasAtStart: number

  constructor(
    readonly build: SectionBuild,
    air: AirAround,
  ) {
    this.startK = air.airK
    this.gasK = this.skinK = this.structureK = air.airK
    this.vaporPa = build.vaporPa * build.vaporStart
    this.absolutePa = air.barometricPa
    this.moles = ((this.absolutePa - this.vaporPa) * build.volumeM3) / (gasConstant * this.gasK)
    this.gasAtStart = this.moles
    this.crept = build.creep.map(() => 0)
    this.lastM3 = this.volumeM3(air.barometricPa)
  }

  volumeM3(outsidePa: number): number {
    const { volumeM3, stretchPerPa } = this.build
    const load = this.absolutePa - outsidePa
    const creep = this.crept.reduce((sum, part) => sum + part, 0)
    const thermal = 7e-5 * (this.skinK - this.startK)
    return volumeM3 * (1 + stretchPerPa * (load + creep) + thermal) - this.strokeM3
  }

  /** Moles a second that leave through the leak now. */
  leakMolPerS(outsidePa: number): number {
    const { leakMolPerS, laminarShare, testPa } = this.build
    const atTest = testPa * (testPa + 2 * 101325)
    const now = this.absolutePa ** 2 - outsidePa ** 2
    const laminar = now / atTest
    const orifice = Math.sign(now) * Math.sqrt(Math.abs(now) / atTest)
    return leakMolPerS * (laminarShare * laminar + (1 - laminarShare) * orifice)
  }

  /** Steps by `dtS`; `inflow` is everything but the leak, [mol/s], gas at room temperature when it comes in. */
  step(dtS: number, air: AirAround, inflowMolPerS: number): void {
    const { build } = this
    const outside = air.barometricPa
    const flow = inflowMolPerS - this.leakMolPerS(outside)
    const difference = this.gasK - this.skinK
    const faster = 0.25 + 0.75 * Math.abs(difference) ** build.convectionExponent
    const exchange = (this.gasAtStart * cvMolar * faster) / build.gasTauS
    const enters = flow > 0 ? cpMolar * air.airK - cvMolar * this.gasK : gasConstant * this.gasK
    this.gasK += (dtS * (flow * enters - exchange * difference)) / (this.moles * cvMolar)
    this.moles += flow * dtS
    const skinHeat = build.skinOverGas * this.gasAtStart * cvMolar
    const around = 0.6 * air.airK + 0.4 * air.buildingK + air.sunK
    this.skinK +=
      dtS *
      ((exchange * difference) / skinHeat +
        (around - this.skinK) / build.skinTauS +
        (this.structureK - this.skinK) / build.skinStructureTauS)
    this.structureK += (dtS * (air.airK + 0.3 * air.sunK - this.structureK)) / build.structureTauS
    for (const [i, { share, tauS }] of build.creep.entries())
      this.crept[i] += ((share * (this.absolutePa - outside) - this.crept[i]) * dtS) / tauS
    // Avgas and mogas gain some 4 % of vapour pressure a kelvin (common tables, from memory).
    const saturated = build.vaporPa * Math.exp(0.04 * (this.skinK - this.startK))
    this.vaporPa += ((saturated - this.vaporPa) * dtS) / build.vaporTauS
    this.absolutePa = this.pressure(outside)
    // Work of the moving walls and of a plunger.
    const after = this.volumeM3(outside)
    this.gasK -= (this.absolutePa * (after - this.lastM3)) / (this.moles * cvMolar)
    this.absolutePa = this.pressure(outside)
    this.lastM3 = this.volumeM3(outside)
  }

  private pressure(outsidePa: number): number {
    return (this.moles * gasConstant * this.gasK) / this.volumeM3(outsidePa) + this.vaporPa
  }
}

/** Moles a second through a laminar path that passes `molPerS` at `atGaugePa` above a standard atmosphere. */
export function laminarPath(molPerS: number, atGaugePa: number): (highPa: number, lowPa: number) => number {
  const reference = atGaugePa * (atGaugePa + 2 * 101325)
  return (highPa, lowPa) => (molPerS * (highPa ** 2 - lowPa ** 2)) / reference
}

/** Leak that makes the true volume fall by `dropPa` in `holdS` at the test pressure, with temperature steady, [mol/s]. */
export function leakOfDrop(
  build: Omit<SectionBuild, 'leakMolPerS' | 'laminarShare'>,
  dropPa: number,
  holdS: number,
  K: number,
): number {
  const { volumeM3, stretchPerPa, testPa } = build
  const molesPerPa = (volumeM3 * (1 + stretchPerPa * (2 * testPa + 101325))) / (gasConstant * K)
  return (molesPerPa * dropPa) / holdS
}
