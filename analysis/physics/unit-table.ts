/** Dimension of a quantity. Values convert only within one dimension. */
export type Dimension =
  | 'pressure'
  | 'temperature'
  | 'temperature-difference'
  | 'volume'
  | 'time'
  | 'torque'
  | 'volume-flow'
  /** Standard cubic metres a second: a molar flow only with a reference temperature. */
  | 'gas-flow'
  | 'ratio'
  /** Growth of a volume with pressure, [1/Pa]. */
  | 'stretch'
  | 'share-of-span'
  | 'voltage'
  | 'current'
  | 'resistance'
  | 'frequency'
  | 'counts'
  | 'length'
  | 'mass'
  | 'density'

export interface Unit {
  /** Spelling used on screens and in files. */
  readonly symbol: string
  readonly dimension: Dimension
  /** SI value = (value + offset) · times / over: a division by a whole number stays correctly rounded. */
  readonly times: number
  readonly over: number
  readonly offset: number
  /** Other spellings of the same unit. */
  readonly also: readonly string[]
}

function unit(
  dimension: Dimension,
  symbol: string,
  times: number,
  over: number,
  also: readonly string[] = [],
  offset = 0,
): Unit {
  return { symbol, dimension, times, over, offset, also }
}

/** Standard gravity, exact, [m/s²]. */
const GRAVITY = 9.80665
/** Avoirdupois pound, exact, [kg]. */
const POUND = 0.45359237
/** Inch, exact, [m]. */
const INCH = 0.0254
/** Pound-force, exact, [N]. */
const POUND_FORCE = POUND * GRAVITY
/** US liquid gallon, 231 cubic inches exactly, [m³]. */
const US_GALLON = 3.785411784e-3
/** Density of conventional mercury, exact by convention, [kg/m³]. */
const MERCURY = 13595.1

/**
 * Every unit the program reads or shows, in the order displays list them.
 *
 * The factors are built from exact definitions (inch, pound, standard gravity, conventional mercury and water), so
 * they are exact; a test compares them with the published rounded factors.
 *
 * Source: [nist-sp811] appendix B.8; [si-brochure] for the SI prefixes.
 */
export const unitTable: readonly Unit[] = [
  unit('pressure', 'Pa', 1, 1, ['pascal', 'N/m2']),
  unit('pressure', 'hPa', 100, 1),
  unit('pressure', 'kPa', 1000, 1),
  unit('pressure', 'MPa', 1e6, 1),
  unit('pressure', 'mbar', 100, 1, ['millibar']),
  unit('pressure', 'bar', 1e5, 1),
  unit('pressure', 'psi', POUND_FORCE, INCH * INCH, ['lbf/in2', 'lb/in2']),
  unit('pressure', 'inHg', INCH * GRAVITY * MERCURY, 1, ['"Hg', 'inch Hg']),
  unit('pressure', 'inH2O', INCH * GRAVITY * 1000, 1, ['inWC', 'in w.c.', '"H2O', 'inch H2O', 'in H₂O']),
  unit('pressure', 'mmH2O', GRAVITY, 1, ['mmWC']),
  unit('pressure', 'cmH2O', GRAVITY * 10, 1, ['cmWC']),
  unit('pressure', 'mmHg', GRAVITY * MERCURY, 1000),
  unit('pressure', 'Torr', 101325, 760),
  unit('pressure', 'atm', 101325, 1),

  unit('temperature', 'degC', 1, 1, ['°C', 'C', 'deg C', 'celsius'], 273.15),
  unit('temperature', 'degF', 5, 9, ['°F', 'F', 'deg F', 'fahrenheit'], 459.67),
  unit('temperature', 'K', 1, 1, ['kelvin']),
  unit('temperature-difference', 'K', 1, 1, ['kelvin']),
  unit('temperature-difference', 'degC', 1, 1, ['°C', 'C', 'deg C', 'celsius']),
  unit('temperature-difference', 'degF', 5, 9, ['°F', 'F', 'deg F', 'fahrenheit']),

  unit('volume', 'L', 1, 1000, ['l', 'litre', 'liter', 'litres', 'liters']),
  unit('volume', 'mL', 1, 1e6, ['ml']),
  unit('volume', 'm3', 1, 1),
  unit('volume', 'dm3', 1, 1000),
  unit('volume', 'cm3', 1, 1e6, ['cc', 'ccm']),
  unit('volume', 'mm3', 1, 1e9, ['uL', 'μL', 'ul']),
  unit('volume', 'in3', INCH * INCH * INCH, 1, ['cu in', 'cubic inch']),
  unit('volume', 'US gal', US_GALLON, 1, ['gal', 'gallon', 'gallons', 'US gallon', 'US gallons', 'USG']),
  unit('volume', 'qt', US_GALLON, 4, ['US qt', 'quart', 'quarts']),
  unit('volume', 'imp gal', 4.54609e-3, 1, ['imperial gallon', 'imperial gallons', 'UK gal']),

  unit('time', 's', 1, 1, ['sec', 'second', 'seconds']),
  unit('time', 'min', 60, 1, ['minute', 'minutes']),
  unit('time', 'h', 3600, 1, ['hr', 'hour', 'hours']),
  unit('time', 'd', 86400, 1, ['day', 'days']),
  unit('time', 'ms', 1, 1000),

  unit('torque', 'N·m', 1, 1, ['newton metre', 'newton meter']),
  unit('torque', 'lbf·ft', POUND_FORCE * 12 * INCH, 1, ['ft·lb', 'ft·lbf', 'lb·ft', 'ft·lbs']),
  unit('torque', 'lbf·in', POUND_FORCE * INCH, 1, ['in·lb', 'in·lbf', 'lb·in', 'in·lbs']),

  unit('volume-flow', 'mL/min', 1, 60e6, ['cc/min', 'cm3/min', 'ml/min']),
  unit('volume-flow', 'mL/h', 1, 3600e6, ['ml/h', 'mL/hr', 'cc/h']),
  unit('volume-flow', 'L/min', 1, 60e3, ['l/min', 'lpm']),
  unit('volume-flow', 'L/h', 1, 3600e3, ['l/h', 'L/hr', 'lph']),
  unit('volume-flow', 'gal/h', US_GALLON, 3600, ['US gal/h', 'gal/hr', 'gph']),
  unit('volume-flow', 'gal/min', US_GALLON, 60, ['US gal/min', 'gpm']),
  unit('volume-flow', 'm3/s', 1, 1),

  unit('gas-flow', 'scc/min', 1, 60e6, ['sccm', 'std cc/min', 'scm3/min']),
  unit('gas-flow', 'scc/h', 1, 3600e6, ['sccph', 'scc/hr']),
  unit('gas-flow', 'scc/s', 1, 1e6, ['std cc/s']),
  unit('gas-flow', 'sL/min', 1, 60e3, ['slm', 'slpm']),

  unit('ratio', '%', 1, 100, ['percent', 'per cent']),
  unit('ratio', 'ppm', 1, 1e6),
  unit('stretch', '% per bar', 1, 100e5, ['%/bar', 'percent per bar']),
  unit('stretch', '% per kPa', 1, 100e3, ['%/kPa']),
  unit('stretch', '% per psi', INCH * INCH, 100 * POUND_FORCE, ['%/psi', 'percent per psi']),
  unit('stretch', '1/Pa', 1, 1),
  unit('share-of-span', '% of span', 1, 100, [
    '% span',
    '% FS',
    '% of FS',
    '% full scale',
    '% of full scale',
    '%FSO',
  ]),

  unit('voltage', 'V', 1, 1, ['volt', 'volts', 'VDC']),
  unit('voltage', 'mV', 1, 1000),
  unit('current', 'A', 1, 1),
  unit('current', 'mA', 1, 1000),
  unit('resistance', 'ohm', 1, 1, ['ohms', 'Ω']),
  unit('resistance', 'kohm', 1000, 1, ['kΩ', 'kohms']),
  unit('frequency', 'Hz', 1, 1),
  unit('counts', 'counts', 1, 1, ['count', 'LSB']),

  unit('length', 'm', 1, 1),
  unit('length', 'cm', 1, 100),
  unit('length', 'mm', 1, 1000),
  unit('length', 'µm', 1, 1e6, ['um', 'μm']),
  unit('length', 'in', INCH, 1, ['inch', 'inches', '"']),
  unit('length', 'ft', 12 * INCH, 1, ['foot', 'feet']),
  unit('mass', 'kg', 1, 1),
  unit('mass', 'g', 1, 1000),
  unit('mass', 'lb', POUND, 1, ['lbs', 'pound', 'pounds']),
  unit('density', 'kg/m3', 1, 1),
  unit('density', 'kg/L', 1000, 1, ['g/cm3', 'g/mL']),
  unit('density', 'lb/gal', POUND, US_GALLON, ['lb/US gal']),
]

/** A display unit of readings. */
export interface ShownUnit {
  readonly symbol: string
  /** Decimals of a reading at rest. */
  readonly decimals: number
}

/** Units offered on the page for each kind of reading; the first is the default. A unit added here appears in every choice. */
export const shownUnits = {
  gauge: [
    { symbol: 'psi', decimals: 3 },
    { symbol: 'inH2O', decimals: 2 },
    { symbol: 'inHg', decimals: 3 },
    { symbol: 'kPa', decimals: 3 },
    { symbol: 'mbar', decimals: 2 },
    { symbol: 'hPa', decimals: 2 },
    { symbol: 'bar', decimals: 4 },
  ],
  barometer: [
    { symbol: 'hPa', decimals: 1 },
    { symbol: 'mbar', decimals: 1 },
    { symbol: 'inHg', decimals: 2 },
    { symbol: 'kPa', decimals: 2 },
    { symbol: 'psi', decimals: 3 },
  ],
  temperature: [
    { symbol: 'degC', decimals: 2 },
    { symbol: 'degF', decimals: 2 },
  ],
  volume: [
    { symbol: 'L', decimals: 2 },
    { symbol: 'US gal', decimals: 2 },
  ],
} as const satisfies Readonly<Record<string, readonly [ShownUnit, ...ShownUnit[]]>>
