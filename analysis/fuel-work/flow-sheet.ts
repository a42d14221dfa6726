import { mean, sampleStandardDeviation } from 'simple-statistics'
import type { Recording } from '#analysis/model/samples.ts'
import { isTank, type Section, type System } from '#analysis/model/system.ts'
import { lagOneCorrelation } from '#analysis/numeric/moments.ts'
import { type Fuel, fuelProperties } from '#analysis/physics/fuel-properties.ts'
import { density60From } from '#analysis/physics/volume-correction.ts'
import { SheetEntries, SheetError } from './sheet-entries.ts'
import { flowFields, flowOmittedFields, flowRunFields } from './sheet-fields.ts'

/** A figure with its standard uncertainty, SI. */
export interface Measured {
  readonly value: number
  readonly std: number
}

/** Fuel as sold is within four standard uncertainties of the round figure of its grade. */
const gradeStd = 4

/** Plausible densities of a fuel at 15 °C, [kg/m³]. */
function possibleDensity(fuel: Fuel): readonly [low: number, high: number] {
  const { density15KgM3, stdDensity15KgM3 } = fuelProperties[fuel]
  return [density15KgM3 - gradeStd * stdDensity15KgM3, density15KgM3 + gradeStd * stdDensity15KgM3]
}

/**
 * Flow sheet: its own entries, `runs`, and `omitted` runs with `why`.
 *
 * @throws SheetError naming the first entry that is wrong
 */
export function readFlowSheet(value: unknown, system: System, recording: (name: string) => Recording) {
  const sheet = new SheetEntries(value, 'flow sheet')
  const is = sheet.read(flowFields, system)
  const { density, 'density-at': densityAt } = is
  if (density !== null && densityAt === null)
    sheet.fail('density-at', 'is missing: the temperature of the measured density')
  const runs = sheet
    .list('runs')
    .map((run, i) => readRun(new SheetEntries(run, `run ${i + 1}`), system, recording))
  const pumps = is.pumps?.filter((name) => name !== 'none') ?? null
  const strange = runs.find(({ pump }) => pump !== null && pump !== 'all' && pumps?.includes(pump) === false)
  if (strange) sheet.fail('pumps', `does not name ${strange.pump}, which a run used`)
  const omitted = sheet.list('omitted').map((one, i) => {
    const entry = new SheetEntries(one, `omitted ${i + 1}`)
    const read = entry.read(flowOmittedFields, system)
    entry.finish()
    return read
  })
  sheet.finish()
  if (density !== null && densityAt !== null) {
    const [low, high] = possibleDensity(is.fuel)
    const at15 = density60From(density.value, densityAt.value)
    if (at15 < low || at15 > high)
      sheet.fail(
        'density',
        `of ${(density.value / 1000).toFixed(3)} kg/L is not that of ${is.fuel} (${(low / 1000).toFixed(2)} to ${(high / 1000).toFixed(2)} kg/L at 15 °C): measure again, or correct the fuel`,
      )
  }
  return {
    fuel: is.fuel,
    /** Take-off fuel flow of the engine, and the source of that figure. */
    takeOffM3PerS: is['take-off-flow'] as Measured,
    takeOffSource: is['take-off-flow-source'],
    rules: is.rules,
    /** Steepest climb, nose up, and the margin on top of it, [°]. */
    climbDeg: is['climb-attitude'],
    marginDeg: is['climb-margin'],
    /** Every main and emergency pump; empty for a system that feeds by gravity alone. */
    pumps: pumps as readonly string[] | null,
    /** Pressures that the engine accepts at its inlet, gauge. */
    inletLimitsPa: is['inlet-limits'],
    inletLimitsSource: is['inlet-limits-source'],
    measuredDensity:
      density && densityAt
        ? { densityKgM3: density.value, stdKgM3: density.std, temperatureK: densityAt.value }
        : null,
    runs: runs as readonly FlowRun[],
    /** Omitted runs, by tank and pump, each with its reason; null means any. */
    omitted: omitted as readonly (typeof omitted)[number][],
    tanks: system.sections.filter(isTank) as readonly Pick<Section, 'id' | 'unusableM3'>[],
  }
}
export type FlowSheet = ReturnType<typeof readFlowSheet>

function readRun(run: SheetEntries, system: System, recording: (name: string) => Recording) {
  const is = run.read(flowRunFields, system)
  run.finish()
  const { weighed, measured, channel, time } = is
  if ([weighed, measured, channel].filter((one) => one !== null).length !== 1)
    run.fail('weighed', 'or measured or channel: name exactly one')
  const seconds = channel === null ? (time ?? run.fail('time', 'is missing')) : null
  const byChannel =
    channel === null
      ? null
      : channelFlow(system, channel, recording, {
          name: is.recording ?? run.fail('recording', 'is missing'),
          fromS: is.from ?? 0,
          untilS: is.to ?? Number.POSITIVE_INFINITY,
        })
  return {
    tank: is.tank,
    feed: is.feed,
    /** Which pump; `all` for every one together; null for gravity. */
    pump: is.pump,
    temperatureK: is.temperature as Measured,
    attitudeDeg: is.attitude,
    /** In the tank when the run began. */
    inTankM3: is['in-tank'] as Measured | null,
    /** The tank contained only its unusable fuel and what the run needs: the lowest head. */
    lowestHead: is['lowest-head'],
    /** Height of the outlet relative to the engine inlet: a lower outlet adds a head that the engine does not have. */
    outlet: is.outlet,
    inletPa: is['inlet-pressure'] as Measured | null,
    seconds: (byChannel?.seconds ?? seconds!) as Measured,
    /** The delivery: weighed, measured by volume, or the mean of a flow channel. */
    delivered: (byChannel?.delivered ??
      (weighed ? { by: 'mass', shownKg: weighed } : { by: 'volume', m3: measured! })) as Delivered,
  }
}
export type FlowRun = ReturnType<typeof readRun>

type Delivered =
  | { readonly by: 'mass'; readonly shownKg: Measured }
  | { readonly by: 'volume'; readonly m3: Measured }
  | { readonly by: 'channel'; readonly m3PerS: Measured; readonly channel: string }

/**
 * Mean of a flow channel over a span of time.
 *
 * Correlated samples have an effective sample size of n(1−φ)/(1+φ); the maker's accuracy, a half
 * width, adds a/√3.
 *
 * @throws SheetError if there is no such channel, or it has fewer than ten samples
 * Source: [jcgm-100] 4.3.7; effective number of AR(1) samples, textbook
 */
function channelFlow(
  system: System,
  id: string,
  recording: (name: string) => Recording,
  { name, fromS, untilS }: { readonly name: string; readonly fromS: number; readonly untilS: number },
) {
  const channel = system.channels.find((one) => one.id === id && one.measures === 'fuel-flow')
  if (!channel) throw new SheetError(`channel ${id}: no fuel-flow channel of the system file`)
  const samples = recording(name).channels.find((one) => one.channel === id)
  const isInside = (s: number) => s >= fromS && s <= untilS
  const taken = [...(samples?.reading ?? [])].filter((_, i) => isInside(samples!.timeS[i]))
  const times = samples?.timeS.filter(isInside) ?? []
  if (taken.length < 10) throw new SheetError(`${name}: fewer than ten readings of ${id} in that time`)
  const correlation = Math.min(0.98, Math.max(0, lagOneCorrelation(taken) || 0))
  const effective = Math.max(1, (taken.length * (1 - correlation)) / (1 + correlation))
  const std = Math.hypot(
    sampleStandardDeviation(taken) / Math.sqrt(effective),
    (channel.accuracySi ?? 0) / Math.sqrt(3),
  )
  return {
    delivered: { by: 'channel' as const, m3PerS: { value: mean(taken), std }, channel: id },
    seconds: { value: times[times.length - 1] - times[0], std: 0 },
  }
}
