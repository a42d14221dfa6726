import { firstOrderLag } from '#analysis/numeric/first-order-lag.ts'
import { memoize } from '#analysis/numeric/memoize.ts'
import { mean } from '#analysis/signal/sample-slice.ts'
import { convectiveGas } from './convective-gas.ts'
import { stiffnessOf } from './gas-priors.ts'
import { leakColumns } from './leak-columns.ts'
import { responseVariance, stiffnessColumn, throughStiffness } from './through-stiffness.ts'

/** The regressors' places in a row of the gas model; what is asked for stands last. */
export const place = {
  level: 0,
  heat: 1,
  slowHeat: 2,
  lead: 3,
  temperature: 4,
  barometer: 5,
  law: 6,
  leak: 7,
  creep: 8,
} as const

/** Columns before the creep columns. */
export const baseColumns = 8

/** Data of one section as the fit takes it: rows are time blocks. */
export interface GasRows {
  /** Block edges from the end of pump-up, [s]; row i lies between fromS[i] and toS[i]. */
  readonly fromS: Float64Array
  readonly toS: Float64Array
  readonly absolutePa: Float64Array
  readonly gaugePa: Float64Array
  /** White variance of ln p, and the part of it that comes from the barometer. */
  readonly variance: Float64Array
  readonly weatherVariance: Float64Array
  /** Whether the transducer reads absolute pressure, in which the barometer's noise has no part. */
  readonly absolute: boolean
  /** ln(T/T₀) of the thermometer, smoothed, and the variance left in it; zeros when there is none. */
  readonly logTemperature: Float64Array
  readonly temperatureVariance: Float64Array
  /** Mean temperature T₀, [K]. */
  readonly temperatureK: number
  /** Begin of the hold, [s] from the end of pump-up: the leak column is 0 there. */
  readonly holdFromS: number
  /** Stated hold time, [s], and stated test pressure, absolute and gauge, [Pa]. */
  readonly statedHoldS: number
  readonly testPa: number
  readonly testGaugePa: number
}

/** What a thermometer may feel: the wall, which the gas follows late, or the gas itself, which it follows late. */
export const thermometers = ['wall', 'gas'] as const

/** One way the section may behave: what cannot be solved for linearly. */
export interface GasShape {
  readonly thermometer: (typeof thermometers)[number]
  /** Time constant of that, and of the pump-up heat, [s]. */
  readonly lagS: number
  /** Heat that goes the slower the less is left (natural convection: flow as the 5/4 power). */
  readonly convective: boolean
  /** κ of V = V₀(1 + κ·g), [1/Pa]. */
  readonly stretchPerPa: number
  /** m of a leak that flows as (p² − p_b²)^m. */
  readonly flowExponent: number
}

/** Mean of e^(−t/τ) over each row's block. */
function decayColumn(rows: Pick<GasRows, 'fromS' | 'toS'>, tauS: number): Float64Array {
  const out = new Float64Array(rows.fromS.length)
  for (let i = 0; i < out.length; i++) {
    const width = rows.toS[i] - rows.fromS[i]
    const start = Math.exp(-rows.fromS[i] / tauS)
    out[i] = width > 1e-6 * tauS ? (start * -Math.expm1(-width / tauS) * tauS) / width : start
  }
  return out
}

/** γ − 1 of air and nitrogen. */
const heatRatioLessOne = 0.4

/**
 * Fall of ln T for a fall of ln p by a leak, the section being closed to heat: (γ − 1)/(1 + (γ − 1)·(1 − s)). A volume that
 * gives way follows the gas and does work on it.
 *
 * *Source* first law for the gas that stays, p·dV with d ln p = s·(d ln T + d ln n). *Check* rigid, s = 1: γ − 1.
 */
function expansionChill(stiffness: number): number {
  return heatRatioLessOne / (1 + heatRatioLessOne * (1 - stiffness))
}

/** Ratio of the slow part of the pump-up heat's time constant to the fast part's. */
const slowHeatRatio = 3.5
/** How much slower a gas at its wall's temperature follows than one 1 K away: (1 K / 0.05 K)^¼. */
const stillLagRatio = 2.115

/** White variance of each row, and what a thermometer in the gas has of it: its mean, and ln of the response's mean slope with it. */
export interface ResponseNoise {
  readonly variance: Float64Array
  readonly thermal: { readonly variance: number; readonly logSlope: number } | null
}

/** Regressors of one shape and the response they explain. */
export interface GasColumns {
  readonly regressors: Float64Array[]
  /** ln p over the test pressure, freed of what the atmosphere does to a volume of this stretch. */
  readonly response: Float64Array
  /** Noise of the response where the gas swings by a gain over the thermometer. */
  noiseAt(gain: number): ResponseNoise
  /**
   * The columns of heat and leak and what is not linear in them, for a pump-up heat of amplitude a and a leak's drop λ:
   * ln(1 + a·h) − a·h where the gas cools exponentially, the rest of the whole way where it cools by convection. In arrays
   * that the next call writes over.
   */
  heatAt(amplitude: number, drop: number): { heat: Float64Array; leak: Float64Array; bend: Float64Array }
}

/**
 * Columns of ln p for one shape after another, what shapes share being made once: level, pump-up heat, its slow tail,
 * thermometer lead, temperature, barometer, what another flow exponent makes of a leak of size 1, leak, and one creep for
 * each creep time constant.
 *
 * d ln p = s·(d ln T_gas − loss − creep) + (1 − s)·dp_b/p with s = 1/(1 + κp/(1 + κg)), summed along the rows;
 * T_gas is the thermometer's reading through a lag (it feels the wall) or a lead (it feels the gas) plus the pump-up heat.
 * The leak's coefficient is the drop of ln p in one stated hold time at the stated pressure.
 * *Source* docs/method.md section 2, elastic volume.
 */
export function gasColumnsOf(rows: GasRows, creepTausS: readonly number[]): (shape: GasShape) => GasColumns {
  const middleS = rows.fromS.map((from, i) => (from + rows.toS[i]) / 2)
  const weather = weatherColumn(rows)
  const level = new Float64Array(middleS.length).fill(1)
  const decay = memoize((tauS: number) => decayColumn(rows, tauS))
  const followed = memoize((lagS: number) => firstOrderLag(middleS, rows.logTemperature, lagS))
  const ofStretch = memoize((stretchPerPa: number) => {
    const stiffness = stiffnessColumn(rows, stretchPerPa)
    const through: SharedColumns['through'] = (column, out = new Float64Array(column.length)) =>
      throughStiffness(stiffness, column, out)
    const breathed = through(weather)
    return {
      stiffness,
      through,
      white: responseVariance(rows, stiffness),
      response: rows.absolutePa.map((p, i) => Math.log(p / rows.testPa) - (weather[i] - breathed[i])),
      creeps: creepTausS.map((tauS) => through(decay(tauS).map((left) => left - 1))),
      heatOf: memoize((tauS: number) => through(decay(tauS))),
      temperatureOf: memoize((lagS: number) => through(followed(lagS))),
      leadOf: memoize((lagS: number) => {
        const behind = followed(lagS)
        return through(rows.logTemperature.map((t, i) => t - behind[i]))
      }),
      leakOf: memoize((flowExponent: number) => leakColumns(rows, { stretchPerPa, flowExponent }, stiffness)),
    }
  })
  return (shape) => {
    const { leakOf, ...shared } = ofStretch(shape.stretchPerPa)
    return shapedColumns(rows, shape, {
      ...shared,
      ...leakOf(shape.flowExponent),
      middleS,
      weather,
      level,
      decay,
      followed,
    })
  }
}

/** What shapes of one stretch and flow law share. */
interface SharedColumns {
  readonly stiffness: Float64Array
  through(column: Float64Array, out?: Float64Array): Float64Array
  /** White variance of the response. */
  readonly white: Float64Array
  readonly response: Float64Array
  readonly creeps: readonly Float64Array[]
  readonly leak: Float64Array
  readonly law: Float64Array
  readonly middleS: Float64Array
  readonly weather: Float64Array
  readonly level: Float64Array
  decay(tauS: number): Float64Array
  /** ln(T/T₀) through a lag. */
  followed(lagS: number): Float64Array
  /** What a decaying heat, the temperature through a lag, and what it lags behind, do to ln p. */
  heatOf(tauS: number): Float64Array
  temperatureOf(lagS: number): Float64Array
  leadOf(lagS: number): Float64Array
}

function shapedColumns(rows: GasRows, shape: GasShape, shared: SharedColumns): GasColumns {
  const { stiffness, through, white, response, creeps, leak, law, middleS, weather, level, heatOf } = shared
  const n = rows.fromS.length
  const { lagS, stretchPerPa } = shape
  if (shape.thermometer === 'gas') {
    // The thermometer shows the gas late: everything else is made as late, and what it lacked at the start decays.
    // This judges the thermometer by the gauge: its noise is what scatters, whatever the lag.
    const late = (column: Float64Array): Float64Array => firstOrderLag(middleS, column, lagS)
    const lateHeat = heatOf(lagS)
    const none = new Float64Array(n)
    const lateLeak = late(leak)
    return {
      regressors: [
        level,
        lateHeat,
        late(heatOf(lagS * slowHeatRatio)),
        none,
        through(rows.logTemperature),
        late(weather),
        late(law),
        lateLeak,
        ...creeps.map(late),
      ],
      // It is late in T, not in ln T: of a large pump-up heat that is not the same.
      response: late(response.map(Math.exp)).map(Math.log),
      noiseAt(gain) {
        const thermal = rows.temperatureVariance.map((v, i) => v * (gain * stiffness[i]) ** 2)
        const logSlope = stiffness.reduce((sum, s) => sum + Math.log(gain * s), 0) / n
        return {
          variance: white.map((v, i) => v + thermal[i]),
          thermal: { variance: mean(thermal), logSlope },
        }
      },
      heatAt: () => ({ heat: lateHeat, leak: lateLeak, bend: none }),
    }
  }
  const stillLagS = shape.convective ? lagS * stillLagRatio : lagS
  // Gas that stays behind does the work of pushing the rest out and is colder by it until the wall has warmed it.
  // A thermometer in the gas sees it by itself.
  const chilling = expansionChill(stiffnessOf(stretchPerPa, rows.testPa, rows.testGaugePa))
  // Where it cools by convection the way itself tells how cold, below.
  const lateLeak = shape.convective ? leak : firstOrderLag(middleS, leak, stillLagS)
  const coolingLeak = leak.map((value, i) => value + chilling * stiffness[i] * (value - lateLeak[i]))
  const cold = leak.map((value) => chilling * value)
  const temperature = shared.followed(stillLagS)
  const exponential = shared.decay(lagS)
  const bend = new Float64Array(n)
  const warmed = new Float64Array(n)
  const chilled = new Float64Array(n)
  return {
    regressors: [
      level,
      heatOf(lagS),
      heatOf(lagS * slowHeatRatio),
      shared.leadOf(stillLagS),
      shared.temperatureOf(stillLagS),
      weather,
      law,
      coolingLeak,
      ...creeps,
    ],
    response,
    noiseAt: () => ({ variance: white, thermal: null }),
    heatAt(amplitude, drop) {
      if (!shape.convective) {
        for (let i = 0; i < n; i++)
          bend[i] = Math.log1p(amplitude * exponential[i]) - amplitude * exponential[i]
        return { heat: heatOf(lagS), leak: coolingLeak, bend: through(bend, bend) }
      }
      const step = Math.max(1e-5, 0.01 * Math.abs(amplitude))
      const ways = [
        { amplitude, drop },
        { amplitude: amplitude + step, drop },
        { amplitude, drop: drop + step },
      ]
      convectiveGas(rows, lagS, cold, ways, [bend, warmed, chilled])
      for (let i = 0; i < n; i++) {
        const way = bend[i]
        warmed[i] = (warmed[i] - way) / step
        chilled[i] = (chilled[i] - way) / step
        bend[i] = way - amplitude * warmed[i] - drop * chilled[i] - temperature[i]
      }
      through(chilled, chilled)
      for (let i = 0; i < n; i++) chilled[i] += leak[i]
      return { heat: through(warmed, warmed), leak: chilled, bend: through(bend, bend) }
    },
  }
}

/** ∫ dp_b/p from the first row: change of the atmosphere over the absolute pressure; zeros without a barometer. */
function weatherColumn(rows: GasRows): Float64Array {
  const { absolutePa, gaugePa } = rows
  const out = new Float64Array(absolutePa.length)
  for (let i = 1; i < out.length; i++) {
    const change = absolutePa[i] - gaugePa[i] - (absolutePa[i - 1] - gaugePa[i - 1])
    out[i] = out[i - 1] + (2 * change) / (absolutePa[i] + absolutePa[i - 1])
  }
  return out
}
