/** Exact by definition: 0.45359237 kg · 9.80665 m/s² / (0.0254 m)². */
export const psiPa = 6894.757293168361

/** One standard cubic centimetre a minute at 0 °C and 101.325 kPa, [mol/s]. */
export const sccPerMinMolPerS = (101325 * 1e-6) / (8.31446261815324 * 273.15) / 60
