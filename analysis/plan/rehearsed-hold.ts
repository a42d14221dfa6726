import { fullLine } from '#analysis/fit/full-line.ts'
import { stiffnessOf } from '#analysis/fit/hold-model.ts'
import type { ChannelSamples, Mark, Recording } from '#analysis/model/samples.ts'
import { type Channel, type HoldSpec, isTank, type Section, type System } from '#analysis/model/system.ts'
import { isLiquid } from '#analysis/physics/fuel-properties.ts'
import { heatLeft, standardAtmospherePa } from '#analysis/physics/ideal-gas.ts'

/** Settings of a rehearsal that the system file does not state; every figure is our own, and the plan states it. */
export interface RehearsalSetting {
  readonly sampleHz: number
  /** Steady drift of the room, [K/h]. */
  readonly driftKPerH: number
  readonly settleS: number
  /** Duration of the hold, which may differ from the stated time, [s]. */
  readonly holdS: number
  /** Factor on the usual time constant of contents to wall, 1 when left out; it also selects the noise. */
  readonly lagFactor?: number
  /** Place of the thermometer, the wall when left out. */
  readonly touches?: 'wall' | 'gas'
  /** Interval of readings by eye of a dial gauge and a thermometer, [s]; a logger when left out. */
  readonly readEveryS?: number
}

/** Readings by eye that the page requests: least numbers in a hold and in settling, and at least one a minute. */
const eyeReadings = { inHold: 12, inSettle: 3, everyS: 60 } as const
export const readByEyeS = (holdS: number): number =>
  Math.min(eyeReadings.everyS, holdS / (eyeReadings.inHold - 1))

/** Assumed noise of instruments where the file states none, one standard deviation. */
export const assumed = {
  thermometerK: 0.02,
  thermometerStepK: 0.01,
  thermometerLagS: 30,
  barometerPa: 4,
  /** Converter steps over the span, where no resolution is stated. */
  steps: 2 ** 14,
  /** Span over the test pressure where no range is stated. */
  spans: 3,
  /** White noise of the readings, in steps. */
  whiteSteps: 1.3,
  /** Reading error of a person in addition to rounding, as a share of a logger's white noise. */
  eyeSteps: 0.25,
  /** Correlated noise, in steps, and its correlation time, [s]. */
  flickerSteps: 0.17,
  flickerTauS: 30,
  /** Share of air in a carefully filled line, and stretch of unstated walls, [1/Pa]. */
  air: 0.005,
  wallPerPa: 1e-9,
  /** Stretch of a tank if not stated, [1/Pa]. */
  tankStretchPerPa: 3e-6,
} as const

const beforeS = 20
const mostReadings = 1500
const ventS = 40
/** Time constants of contents to wall and of wall to room, [s] (common practice). */
const lagS = { line: 30, tank: 400 } as const
const wallLagS = { line: 150, tank: 600 } as const
const pumpS = { line: 20, tank: 120 } as const
/** Rise of a full line by a stroke, as a share of the test pressure, and its time after pump-up, [s]. */
const stroke = { share: 0.15, atS: 22 } as const

/** Normal deviates from a fixed seed: a rehearsal needs reproducible noise. */
function fixedNormals(seed: number): () => number {
  let state = seed >>> 0
  const uniform = (): number => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0
    return state / 2 ** 32
  }
  return () => {
    let sum = -6
    for (let i = 0; i < 12; i++) sum += uniform()
    return sum
  }
}

/**
 * Simulates a tight hold as the file's sensors would record it: pumped up, settled, held while the room drifts, vented.
 * Its analysis predicts that of a real hold.
 */
export function rehearsedHold(
  system: System,
  spec: HoldSpec,
  main: Section,
  setting: RehearsalSetting,
): Recording {
  const kind = isTank(main) ? 'tank' : 'line'
  const settleAtS = beforeS + pumpS[kind]
  const holdAtS = settleAtS + setting.settleS
  const ventAtS = holdAtS + setting.holdS
  // a long hold has fewer readings with proportionally less noise: the block means are the same
  const hz = Math.min(setting.sampleHz, mostReadings / (ventAtS + ventS))
  const finer = setting.readEveryS === undefined ? Math.sqrt(hz / setting.sampleHz) : assumed.eyeSteps
  const timeS =
    setting.readEveryS === undefined
      ? Float64Array.from({ length: Math.floor((ventAtS + ventS) * hz) }, (_, i) => i / hz)
      : timesByEye(settleAtS, holdAtS, ventAtS, setting.readEveryS)
  const tauS = lagS[kind] * (setting.lagFactor ?? 1)
  const { wallK, insideK } = rehearsedWarmth(timeS, setting.driftKPerH, wallLagS[kind], tauS)
  const { rise, strokeMl } = riseOf(spec, main, kind, setting)
  const atHold = timeS.findIndex((t) => t >= holdAtS)
  const followedK = insideK.map((kelvin) => kelvin - insideK[atHold])
  // a thermometer in the gas shows the heat of pumping
  const pumpedK = isLiquid(main.medium) ? 0 : adiabaticShare(spec) * roomK
  const feltK =
    setting.touches === 'gas'
      ? insideK.map((kelvin, i) => kelvin + pumpedK * heatLeft(timeS[i] - beforeS, pumpS[kind], tauS))
      : wallK
  const gaugePa = timeS.map((t, i) => {
    if (t < beforeS) return 0
    if (t < settleAtS) return (spec.pressurePa * (t - beforeS)) / pumpS[kind]
    if (t >= ventAtS) return spec.pressurePa * Math.exp(-(t - ventAtS) / 3)
    const pushed = strokeMl > 0 && t < settleAtS + stroke.atS ? -stroke.share * spec.pressurePa : 0
    return spec.pressurePa + rise(t - settleAtS, followedK[i]) + pushed
  })
  const marks = [
    mark(beforeS, 'stage', spec.id, { name: 'pump-up' }),
    mark(settleAtS, 'stage', spec.id, { name: 'settle' }),
    ...(strokeMl > 0 ? [mark(settleAtS + stroke.atS, 'stroke', null, { volume_mL: strokeMl })] : []),
    mark(holdAtS, 'stage', spec.id, { name: 'hold' }),
    mark(ventAtS, 'stage', spec.id, { name: 'vent' }),
  ]
  function readingOf(channel: Channel, index: number): Float64Array | null {
    const normal = fixedNormals(1000 + index)
    const stepped = (value: number, step: number): number =>
      step > 0 ? Math.round(value / step) * step : value
    switch (channel.measures) {
      case 'gauge-pressure':
      case 'absolute-pressure': {
        const outside = channel.measures === 'absolute-pressure' ? standardAtmospherePa : 0
        const step = pressureStepPa(channel, spec)
        const keep = Math.exp(-(timeS.length > 1 ? timeS[1] - timeS[0] : 1) / assumed.flickerTauS)
        let flicker = normal()
        return gaugePa.map((p) => {
          flicker = keep * flicker + Math.sqrt(1 - keep * keep) * normal()
          return stepped(
            p + outside + step * (assumed.whiteSteps * finer * normal() + assumed.flickerSteps * flicker),
            step,
          )
        })
      }
      case 'temperature':
        return firstOrderLag(timeS, feltK, assumed.thermometerLagS).map((kelvin) =>
          stepped(
            kelvin + finer * assumed.thermometerK * normal(),
            channel.resolutionSi ?? assumed.thermometerStepK,
          ),
        )
      case 'barometric-pressure':
        return timeS.map(() =>
          stepped(standardAtmospherePa + finer * assumed.barometerPa * normal(), channel.resolutionSi ?? 1),
        )
      default:
        return null
    }
  }

  return {
    name: 'rehearsal',
    startNs: '0',
    channels: system.channels.flatMap((channel, i): ChannelSamples[] => {
      if (channel.section !== null && !spec.sections.includes(channel.section)) return []
      const reading = readingOf(channel, i + Math.round(100 * (setting.lagFactor ?? 1)))
      return reading === null ? [] : [{ channel: channel.id, timeS, reading }]
    }),
    marks,
    rejectedLines: 0,
    missingSequence: 0,
  }
}

/**
 * Reading times as the page requests them: one before, one after, evenly between. None is due right after pump-up: among
 * few readings the heat of pumping is hard to distinguish from a leak.
 */
function timesByEye(settleAtS: number, holdAtS: number, ventAtS: number, everyS: number): Float64Array {
  const even = (fromS: number, toS: number, count: number): number[] =>
    Array.from({ length: count }, (_, i) => fromS + ((toS - fromS) * i) / Math.max(1, count - 1))
  const inHold = Math.max(2, Math.floor((ventAtS - holdAtS) / everyS) + 1)
  return Float64Array.from([
    beforeS / 2,
    ...even(settleAtS + (holdAtS - settleAtS) / eyeReadings.inSettle, holdAtS - 1, eyeReadings.inSettle),
    ...even(holdAtS + 1, ventAtS - 1, inHold),
    ventAtS + ventS,
  ])
}

/** Relative temperature rise of a sudden pump-up: 2/7 of the added pressure over the absolute pressure. */
function adiabaticShare({ pressurePa }: HoldSpec): number {
  return (2 / 7) * (pressurePa / (pressurePa + standardAtmospherePa))
}

/** Pressure from the heat of pumping at the end of pump-up, [Pa], and its decay time constant, [s]. */
export function pumpHeat(spec: HoldSpec, main: Section): { readonly heatPa: number; readonly tauS: number } {
  const kind = isTank(main) ? 'tank' : 'line'
  const setting = { sampleHz: 1, driftKPerH: 0, settleS: 1e9, holdS: 1 }
  return { heatPa: riseOf(spec, main, kind, setting).rise(0, 0), tauS: lagS[kind] }
}

/** Deviation from the stated pressure by heat and drift, [Pa], and the stroke of a full line, [mL]. */
function riseOf(
  spec: HoldSpec,
  main: Section,
  kind: 'line' | 'tank',
  setting: RehearsalSetting,
): { rise: (sinceS: number, followedK: number) => number; strokeMl: number } {
  const tau = lagS[kind] * (setting.lagFactor ?? 1)
  const left = heatLeft(pumpS[kind], pumpS[kind], tau)
  if (isLiquid(main.medium)) {
    const beliefs = fullLine(main, main.medium, roomK, spec.pressurePa)
    const walls = main.stretchPerPa === null ? assumed.wallPerPa : 0
    const absolutePa = spec.pressurePa + standardAtmospherePa
    const air = (assumed.air * standardAtmospherePa) / absolutePa ** 2
    const compliancePerPa = beliefs.leastYieldPerPa + walls + air
    const heatPa = (left * beliefs.heatPerPa * Math.abs(spec.pressurePa)) / compliancePerPa
    return {
      rise: (sinceS, followedK) =>
        heatPa * Math.exp(-sinceS / tau) + (beliefs.expansionPerK / compliancePerPa) * followedK,
      strokeMl: 1e6 * main.volumeM3 * compliancePerPa * stroke.share * spec.pressurePa,
    }
  }
  const absolutePa = spec.pressurePa + standardAtmospherePa
  const stretch = main.stretchPerPa ?? (kind === 'tank' ? assumed.tankStretchPerPa : 0)
  const stiffness = stiffnessOf(Math.max(0, stretch), absolutePa, spec.pressurePa)
  const heat = left * adiabaticShare(spec)
  return {
    rise: (sinceS, followedK) =>
      stiffness *
      absolutePa *
      (heat * (Math.exp(-sinceS / tau) - Math.exp(-setting.settleS / tau)) + followedK / roomK),
    strokeMl: 0,
  }
}

/** Resolution step of a pressure channel: as stated, or that of a usual converter over its span. */
function pressureStepPa(channel: Pick<Channel, 'rangeSi' | 'resolutionSi'>, spec: HoldSpec): number {
  const span = channel.rangeSi
    ? channel.rangeSi[1] - channel.rangeSi[0]
    : assumed.spans * Math.abs(spec.pressurePa)
  return channel.resolutionSi ?? span / assumed.steps
}

function mark(timeS: number, kind: Mark['kind'], hold: string | null, fields: Mark['fields']): Mark {
  return { timeNs: String(BigInt(Math.round(timeS * 1e9))), timeS, kind, id: null, hold, fields }
}

/** Start temperature of every rehearsal, [K]. */
const roomK = 293.15

/** Temperature oscillation of a quiet room: amplitude, [K], and period, [s]. Own figures. */
const wobble = { amplitudeK: 0.035, periodS: 900 } as const

/** Wall and contents in a drifting, oscillating room, all at room temperature when the readings begin. */
function rehearsedWarmth(
  timeS: Float64Array,
  driftKPerH: number,
  wallTauS: number,
  insideTauS: number,
): { readonly wallK: Float64Array; readonly insideK: Float64Array } {
  const room = timeS.map(
    (t) => roomK + (driftKPerH / 3600) * t + wobble.amplitudeK * Math.sin((2 * Math.PI * t) / wobble.periodS),
  )
  const wallK = firstOrderLag(timeS, room, wallTauS)
  return { wallK, insideK: firstOrderLag(timeS, wallK, insideTauS) }
}

/**
 * First-order lag of a piecewise linear signal, exact; it starts without lag.
 *
 * @param timeS ascending, [s]
 * @param tauS time constant, above 0, [s]
 * *Check* a ramp of slope a finally lags by a·τ.
 */
function firstOrderLag(timeS: Float64Array, values: Float64Array, tauS: number): Float64Array {
  const out = new Float64Array(values.length)
  out[0] = values[0]
  for (let i = 1; i < out.length; i++) {
    const stepS = timeS[i] - timeS[i - 1]
    const behind = (tauS * (values[i] - values[i - 1])) / stepS
    out[i] = values[i] - behind + (out[i - 1] - values[i - 1] + behind) * Math.exp(-stepS / tauS)
  }
  return out
}
