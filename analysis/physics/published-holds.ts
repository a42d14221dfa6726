import { fromUnit, toUnit } from './units.ts'

/**
 * Hold time of the boat fuel-system rule: 5 min, and 1 min more for each 10 US gal or part of it above 50 US gal.
 *
 * @param capacityM3 of the tank, [m³]
 * @returns [s]
 * Source: [33-cfr-183] and its laboratory procedure
 * Check: 50, 51, 61, 100 gal → 5, 6, 7, 10 min
 */
export function boatTankHoldS(capacityM3: number): number {
  // a whole gallon converted to cubic metres and back must not count as a part more
  const gallons = Number(toUnit(capacityM3, 'US gal').toFixed(9))
  return 60 * (5 + Math.max(0, Math.ceil((gallons - 50) / 10)))
}

/**
 * Test time of a sewer line for a drop of half a pound: 0.085 D K/Q halved, K = max(1, 0.000419 D L), Q = 0.0015 ft³/min
 * for each square foot. It shows how others fix a hold time to a size; nothing here is judged by it.
 *
 * @param diameterM inside, [m]
 * @param lengthM [m]
 * @returns [s]
 * Source: [astm-f1417]
 * Check: 8 in: 3:47 min at least, then 0.760 s/ft
 */
export function sewerLineHoldS(diameterM: number, lengthM: number): number {
  const inches = toUnit(diameterM, 'in')
  const feet = toUnit(lengthM, 'ft')
  const factor = Math.max(1, 0.000419 * inches * feet)
  return (0.085 * inches * factor) / 0.0015 / 2
}

/**
 * Pressure that a vapour space must still hold after 5 min from 2 inH2O: 2 exp(−500.887/V), V in US gal.
 *
 * It is one fixed leak, 1.864 L/min at 2 inH2O, seen through different volumes.
 *
 * @param ullageM3 [m³]
 * @returns [Pa]
 * Source: [carb-tp-201.3]
 * Check: 500, 1000, 5000 gal → 0.7345, 1.2120, 1.8094 inH2O
 */
export function vapourSpaceFinalPa(ullageM3: number): number {
  return fromUnit(2 * Math.exp(-500.887 / toUnit(ullageM3, 'US gal')), 'inH2O')
}
