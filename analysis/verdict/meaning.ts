import type { Meaning } from '#analysis/model/hold-result.ts'
import type { Medium } from '#analysis/model/system.ts'
import { dropM3, fuelProperties, isLiquid } from '#analysis/physics/fuel-properties.ts'
import { gasViscosityPaS } from '#analysis/physics/ideal-gas.ts'
import { equivalentHoleM, laminarLiquidM3PerS, orificeLiquidM3PerS } from '#analysis/physics/leak-flow.ts'

/** A leak: gas in moles, liquid in volume. */
export type FoundLeak =
  | { readonly kind: 'gas'; readonly molPerS: number }
  | { readonly kind: 'liquid'; readonly m3PerS: number }

export interface MeaningContext {
  readonly medium: Medium
  /** Absolute pressure inside at the stated test pressure, [Pa]. */
  readonly insidePa: number
  /** Absolute pressure outside, [Pa]. */
  readonly outsidePa: number
  readonly temperatureK: number
  /** Drop by leakage alone in the stated hold time, [Pa]. */
  readonly dropPa: number
  /** Stated hold time, [s]. */
  readonly holdS: number
}

const dischargeCoefficient = 0.6

/**
 * A leak in practical terms: drop per hour, equivalent hole and possible fuel flow, with all assumptions. A section held
 * with gas is assumed to carry avgas.
 *
 * @param leak zero or negative (noise about none) means no hole and no fuel
 * Check: 1 scc/min of air at 3.5 psig: 2.1 mL/h of avgas; 52.3 scc/min: a hole of 0.1 mm (computed)
 */
export function meaningOf(leak: FoundLeak, context: MeaningContext): Meaning {
  const assumptions = ['drop per hour: at the rate of the stated test pressure']
  const drop_per_hour_Pa = (context.dropPa * 3600) / context.holdS
  const size = leak.kind === 'gas' ? leak.molPerS : leak.m3PerS
  const differencePa = Math.abs(context.insidePa - context.outsidePa)
  if (!(size > 0) || differencePa === 0)
    return { drop_per_hour_Pa, equivalent_hole_m: null, fuel_mL_per_h: 0, drops_per_min: 0, assumptions }
  const fuel = isLiquid(context.medium) ? context.medium : 'avgas'
  const { density15KgM3, viscosityPaS } = fuelProperties[fuel]
  let holeM: number
  let fuelM3PerS: number
  if (leak.kind === 'gas') {
    const gas = context.medium === 'nitrogen' ? 'nitrogen' : 'air'
    const upstreamPa = Math.max(context.insidePa, context.outsidePa)
    const downstreamPa = Math.min(context.insidePa, context.outsidePa)
    holeM = equivalentHoleM(
      gas,
      leak.molPerS,
      upstreamPa,
      downstreamPa,
      context.temperatureK,
      dischargeCoefficient,
    )
    fuelM3PerS = laminarLiquidM3PerS(
      leak.molPerS,
      upstreamPa,
      downstreamPa,
      context.temperatureK,
      gasViscosityPaS(gas, context.temperatureK),
      viscosityPaS,
    )
    const millipascal = Number((viscosityPaS * 1000).toPrecision(2))
    assumptions.push(
      `fuel: ${fuel} of ${millipascal} mPa·s through one laminar path at the test pressure; swelling, dirt or surface tension may hold it back`,
    )
  } else {
    fuelM3PerS = leak.m3PerS
    const millimetre = orificeLiquidM3PerS(1e-3, differencePa, density15KgM3, dischargeCoefficient)
    holeM = 1e-3 * Math.sqrt(leak.m3PerS / millimetre)
    assumptions.push(`hole: ${fuel} of ${density15KgM3} kg/m³`)
  }
  assumptions.push(
    `hole: round, sharp-edged, discharge coefficient ${dischargeCoefficient}; a real leak path is longer and wider`,
    `drops: ${Number((dropM3 * 1e6).toPrecision(2))} mL each (common practice)`,
  )
  return {
    drop_per_hour_Pa,
    equivalent_hole_m: holeM,
    fuel_mL_per_h: fuelM3PerS * 3600e6,
    drops_per_min: (fuelM3PerS * 60) / dropM3,
    assumptions,
  }
}
