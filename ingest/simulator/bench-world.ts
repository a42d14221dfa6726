import { Vessel, type VesselSpec, type Weather } from './vessel.ts'

export interface WorldSection {
  readonly id: string
  readonly vessel: VesselSpec
  /** Share of the sunlight that reaches it, 0 to 1. */
  readonly sunShare: number
}

export interface WorldLeak {
  readonly fitting: string
  readonly section: string
  /** Flow over p² − pb², [mol/(s·Pa²)]. */
  readonly conductance: number
}

export interface WorldValve {
  readonly id: string
  /** Two sections, or one for a cap to the outside. */
  readonly between: readonly string[]
  readonly open: boolean
  /** Conductance while shut, [mol/(s·Pa²)]. */
  readonly passing: number
}

export interface World {
  readonly sections: readonly WorldSection[]
  readonly leaks: readonly WorldLeak[]
  readonly valves: readonly WorldValve[]
  readonly weather: Weather
}

/** Supply of a section: a hand pump with a regulator that follows a ramp and then keeps the pressure. */
interface Supply {
  readonly toPa: number
  readonly fromPa: number
  readonly startS: number
  readonly lastsS: number
}

const flowStepS = 0.1
const quietStepS = 0.5
/** Time constant with which an open valve equalizes the smaller side, [s]. */
const openValveTauS = 1

/**
 * A whole fuel system at the bench: sections joined by valves, leaking at fittings, pumped up and vented by hand,
 * in one environment. Time only moves forward, by `advance`.
 */
export class BenchWorld {
  nowS = 0
  readonly #weather: Weather
  readonly #sections: ReadonlyMap<string, { readonly vessel: Vessel; readonly sunShare: number }>
  readonly #leaks: Map<string, WorldLeak>
  readonly #valves: Map<string, WorldValve>
  readonly #supplies = new Map<string, Supply>()
  readonly #vents = new Map<string, number>()
  readonly #seeps = new Map<string, number>()

  constructor(world: World) {
    this.#weather = world.weather
    this.#sections = new Map(
      world.sections.map(({ id, vessel, sunShare }) => [
        id,
        { vessel: new Vessel(vessel, world.weather(0)), sunShare },
      ]),
    )
    this.#leaks = new Map(world.leaks.map((leak) => [leak.fitting, leak]))
    this.#valves = new Map(world.valves.map((valve) => [valve.id, valve]))
  }

  get atmospherePa(): number {
    return this.#weather(this.nowS).atmospherePa
  }

  section(id: string): Vessel {
    return this.#section(id).vessel
  }

  gaugePa(section: string): number {
    return this.section(section).absolutePa - this.atmospherePa
  }

  /** Brings a section to a gauge pressure on a straight ramp and keeps it there until `stopPump`. */
  pumpUp(section: string, toPa: number, lastsS: number): void {
    this.#vents.delete(section)
    this.#supplies.set(section, { toPa, fromPa: this.gaugePa(section), startS: this.nowS, lastsS })
  }

  stopPump(section: string): void {
    this.#supplies.delete(section)
  }

  /** Opens a section to the outside; `tauS` is the time constant of the vent. */
  vent(section: string, tauS: number): void {
    this.#supplies.delete(section)
    this.#vents.set(section, tauS)
  }

  closeVent(section: string): void {
    this.#vents.delete(section)
  }

  /** Unwanted inflow of gas, such as past the shut valve of a bottle, [mol/s]. */
  seepIn(section: string, molPerS: number): void {
    this.#seeps.set(section, molPerS)
  }

  setValve(id: string, state: Partial<Pick<WorldValve, 'open' | 'passing'>>): void {
    const valve = this.#valves.get(id)
    if (valve === undefined) throw new RangeError(`the bench has no valve '${id}'`)
    this.#valves.set(id, { ...valve, ...state })
  }

  setLeak(leak: WorldLeak): void {
    this.#section(leak.section)
    this.#leaks.set(leak.fitting, leak)
  }

  leak(fitting: string): WorldLeak | null {
    return this.#leaks.get(fitting) ?? null
  }

  advance(seconds: number): void {
    const busy =
      this.#supplies.size > 0 ||
      this.#vents.size > 0 ||
      [...this.#valves.values()].some((valve) => valve.open)
    const steps = Math.max(1, Math.ceil(seconds / (busy ? flowStepS : quietStepS) - 1e-9))
    for (let i = 0; i < steps; i++) this.#step(seconds / steps)
  }

  #section(id: string) {
    const section = this.#sections.get(id)
    if (section === undefined) throw new RangeError(`the bench has no section '${id}'`)
    return section
  }

  #step(dtS: number): void {
    this.nowS += dtS
    const at = this.#weather(this.nowS)
    const flows = new Map([...this.#sections.keys()].map((id) => [id, { in: 0, inK: 0, out: 0 }]))
    const put = (section: string, molPerS: number, temperatureK: number) => {
      const flow = flows.get(section)
      if (flow === undefined) return
      if (molPerS < 0) flow.out -= molPerS
      else {
        flow.in += molPerS
        flow.inK += molPerS * temperatureK
      }
    }
    const toOutside = (section: string, conductance: number) =>
      put(section, -conductance * (this.section(section).absolutePa ** 2 - at.atmospherePa ** 2), at.roomK)

    for (const leak of this.#leaks.values()) toOutside(leak.section, leak.conductance)
    for (const [section, tauS] of this.#vents) toOutside(section, this.#evening(section, tauS))
    for (const [section, molPerS] of this.#seeps) put(section, molPerS, at.roomK)
    for (const valve of this.#valves.values()) this.#throughValve(valve, put, toOutside)
    for (const [section, supply] of this.#supplies) {
      const share = Math.min(1, (this.nowS - supply.startS) / supply.lastsS)
      const wantedPa = supply.fromPa + share * (supply.toPa - supply.fromPa)
      const vessel = this.section(section)
      const gaugePa = vessel.absolutePa - at.atmospherePa
      const molPerS = (vessel.mol / vessel.absolutePa) * (wantedPa - gaugePa)
      // A pump only pushes toward its set pressure, or draws toward its set vacuum.
      if (molPerS * supply.toPa > 0) put(section, molPerS, at.roomK)
    }
    for (const [id, { vessel, sunShare }] of this.#sections) {
      const flow = flows.get(id)
      if (flow === undefined) continue
      const inK = flow.in > 0 ? flow.inK / flow.in : at.roomK
      vessel.step(dtS, { ...at, sunK: sunShare * at.sunK }, flow.in, inK, flow.out)
    }
  }

  #throughValve(
    valve: WorldValve,
    put: (section: string, molPerS: number, temperatureK: number) => void,
    toOutside: (section: string, conductance: number) => void,
  ): void {
    const [a = '', b] = valve.between
    const smaller = b !== undefined && this.section(b).volumeM3 < this.section(a).volumeM3 ? b : a
    const conductance = valve.open ? this.#evening(smaller, openValveTauS) : valve.passing
    if (conductance === 0) return
    if (b === undefined) {
      toOutside(a, conductance)
      return
    }
    const from = this.section(a)
    const to = this.section(b)
    const molPerS = conductance * (from.absolutePa ** 2 - to.absolutePa ** 2)
    const giverK = molPerS > 0 ? from.gasK : to.gasK
    put(a, -molPerS, giverK)
    put(b, molPerS, giverK)
  }

  /** Conductance that vents a section to the other side with the time constant `tauS`, near the atmosphere. */
  #evening(section: string, tauS: number): number {
    const { mol, absolutePa } = this.section(section)
    return mol / absolutePa / (2 * absolutePa * tauS)
  }
}
