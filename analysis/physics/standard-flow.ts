import { gasConstant, standardAtmospherePa } from './ideal-gas.ts'

/** Reference temperature of a standard cubic centimetre unless the file says otherwise, [K]. */
export const defaultSccReferenceK = 273.15

/**
 * Molar flow of one standard cubic centimetre a minute at 101.325 kPa and a reference temperature.
 *
 * @param referenceK [K]
 * @returns [mol/s]
 * Check: 7.4358389e-7 at 0 °C, 6.9285328e-7 at 20 °C (computed); 1 µmol/s is 1.3448 at 0 °C ([nist-leak])
 */
export function molPerSPerScc(referenceK: number): number {
  return (standardAtmospherePa * 1e-6) / 60 / (gasConstant * referenceK)
}

/**
 * Molar flow of a standard volume flow, such as `parseQuantity('0.2 scc/min')` returns.
 *
 * @param standardM3PerS standard cubic metres a second
 * @param referenceK [K]
 * @returns [mol/s]
 */
export function molPerSOfStandard(standardM3PerS: number, referenceK: number): number {
  return (standardM3PerS * standardAtmospherePa) / (gasConstant * referenceK)
}

/** The reference printed with every scc: `0 degC, 101.325 kPa`. */
export function sccReferenceText(referenceK: number): string {
  return `${Number((referenceK - 273.15).toFixed(2))} degC, 101.325 kPa`
}
