import type { Verdict } from '#analysis/model/hold-result.ts'
import type { Recording } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { straightLine } from '#analysis/numeric/straight-line.ts'
import { gasConstant, standardAtmospherePa } from '#analysis/physics/ideal-gas.ts'

/** What a method says of one hold: the drop that leakage causes in the hold time, and the verdict it leads to. */
export interface NaiveAnswer {
  readonly dropPa: number
  /** 95 % interval by the method's own reckoning; null when it has none. */
  readonly interval: readonly [lowPa: number, highPa: number] | null
  readonly verdict: Verdict
}

interface Hold {
  readonly timeS: number[]
  readonly absolutePa: number[]
  readonly temperatureK: number[] | null
}

/** Samples between the marks `hold` and `vent`; a gauge is made absolute with the barometer or the standard atmosphere. */
function holdSamples(recording: Recording, system: System): Hold {
  const from = recording.marks.find((mark) => mark.fields.name === 'hold')?.timeS ?? 0
  const to = recording.marks.find((mark) => mark.fields.name === 'vent')?.timeS ?? Number.POSITIVE_INFINITY
  const of = (kind: string) => {
    const channel = system.channels.find((candidate) => candidate.measures === kind)
    return channel && recording.channels.find((candidate) => candidate.channel === channel.id)
  }
  const gauge = of('gauge-pressure')
  const pressure = gauge ?? of('absolute-pressure')
  const temperature = of('temperature')
  const barometric = of('barometric-pressure')
  if (!pressure) throw new RangeError('a naive method needs a pressure channel')
  const hold: Hold = { timeS: [], absolutePa: [], temperatureK: temperature ? [] : null }
  for (let i = 0; i < pressure.timeS.length; i++) {
    const timeS = pressure.timeS[i]
    if (timeS < from || timeS > to) continue
    hold.timeS.push(timeS - from)
    const addedPa = gauge ? (barometric?.reading[i] ?? standardAtmospherePa) : 0
    hold.absolutePa.push(pressure.reading[i] + addedPa)
    if (temperature) hold.temperatureK?.push(temperature.reading[i])
  }
  return hold
}

function allowedDropPa(system: System): number {
  const spec = system.holds[0]
  if (spec.allow.kind === 'drop') return spec.allow.dropPa
  if (spec.allow.kind !== 'gas-leak')
    throw new RangeError(`no naive method for an allowance '${spec.allow.kind}'`)
  return (spec.allow.molPerS * spec.holdS * gasConstant * 293.15) / system.sections[0].volumeM3
}

function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length
}

/** The needle at the start less the needle at the end; every hold is decided. */
export function rawDrop(recording: Recording, system: System): NaiveAnswer {
  const gauge = recording.channels[0]
  const { timeS } = holdSamples(recording, system)
  const from = recording.marks.find((mark) => mark.fields.name === 'hold')?.timeS ?? 0
  const lengthS = timeS[timeS.length - 1]
  const near = (lowS: number, highS: number) =>
    mean(
      Array.from(gauge.reading).filter(
        (_, i) => gauge.timeS[i] - from >= lowS && gauge.timeS[i] - from <= highS,
      ),
    )
  const dropPa = near(0, 10) - near(lengthS - 10, lengthS)
  return { dropPa, interval: null, verdict: dropPa <= allowedDropPa(system) ? 'pass' : 'fail' }
}

/** A straight line through p·T₀/T by ordinary least squares, with the interval that the line itself claims. */
export function pressureOverTemperature(recording: Recording, system: System): NaiveAnswer {
  const { timeS, absolutePa, temperatureK } = holdSamples(recording, system)
  const compensated = absolutePa.map((pa, i) =>
    temperatureK ? (pa * temperatureK[0]) / temperatureK[i] : pa,
  )
  const { slope, stdSlope } = straightLine(Float64Array.from(timeS), Float64Array.from(compensated))
  const { holdS } = system.holds[0]
  const dropPa = -slope * holdS
  // Hundreds of samples: the t quantile is the normal one.
  const halfPa = 1.959964 * stdSlope * holdS
  const allowedPa = allowedDropPa(system)
  const verdict = dropPa + halfPa < allowedPa ? 'pass' : dropPa - halfPa > allowedPa ? 'fail' : 'undecided'
  return { dropPa, interval: [dropPa - halfPa, dropPa + halfPa], verdict }
}
