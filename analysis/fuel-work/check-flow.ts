import type { Estimate, Verdict } from '#analysis/model/hold-result.ts'
import { z95 } from '#analysis/numeric/normal-distribution.ts'
import { unlikelyEntries } from './flow-plausible.ts'
import type { FlowFeed, FlowResult, FlowRun, FlowRunResult, FlowSheet, Measured } from './flow-result.ts'
import { fuelDensity, massFromScale } from './fuel-density.ts'
import { publishedReasons, type WeighedReason, worstVerdict } from './worst-verdict.ts'

/**
 * Share of the take-off fuel flow that a feed must deliver.
 *
 * Source: 14 CFR 23.955(b) gravity 150 %, (c) pump 125 % (2014)
 */
const neededShare: Readonly<Record<FlowFeed, number>> = { gravity: 1.5, pump: 1.25 }

const rule: Readonly<Record<FlowFeed, string>> = {
  gravity: '150 % of take-off flow, 14 CFR 23.955(b)',
  pump: '125 % of take-off flow, 14 CFR 23.955(c)',
}

/** Name of the run with every pump on: their pressures add up. */
const together = 'all'

const litersPerHour = 3.6e6

/**
 * Volume flow of one run and its standard uncertainty.
 *
 * Q = m/(ρ t) or V/t; u²(Q)/Q² is the sum of the squared relative uncertainties, as the inputs share nothing.
 *
 * Source: [jcgm-100] 5.1.6
 * *Check*: 9.5 kg shown in 600 s of 721 kg/m³ → 9.514412 kg, 79.176935 L/h (computed)
 */
export function runFlow(run: FlowRun, densityKgM3: Measured): Measured {
  const { delivered, seconds } = run
  if (delivered.by === 'channel') return delivered.m3PerS
  const relativeTime = seconds.std / seconds.value
  if (delivered.by === 'volume') {
    const value = delivered.m3.value / seconds.value
    return { value, std: value * Math.hypot(delivered.m3.std / delivered.m3.value, relativeTime) }
  }
  const mass = massFromScale(delivered.shownKg.value, densityKgM3.value)
  const value = mass / densityKgM3.value / seconds.value
  const relative = [
    delivered.shownKg.std / delivered.shownKg.value,
    densityKgM3.std / densityKgM3.value,
    relativeTime,
  ]
  return { value, std: value * Math.hypot(...relative) }
}

/**
 * Judges every run by the guard-band rule of the holds: pass only if flow less requirement is above zero with the whole
 * 95 % interval, fail only if it is below with the whole interval.
 */
export function checkFlow(sheet: FlowSheet): FlowResult {
  const judged = sheet.runs.map((run) => judgeRun(run, sheet))
  const missing = missingRuns(sheet)
  const reasons = [
    ...judged.flatMap(({ reasons }) => reasons),
    ...unlikelyEntries(sheet),
    ...sheetReasons(sheet, missing),
  ]
  const weighed = sheet.runs.find(({ delivered }) => delivered.by === 'mass')
  const density = weighed ? fuelDensity(sheet.fuel, weighed.temperatureK.value, sheet.measuredDensity) : null
  if (density?.source === 'grade')
    reasons.push({
      code: 'density-of-grade',
      message: `Density taken from the grade (${density.densityKgM3.toFixed(0)} ± ${(2 * density.stdDensityKgM3).toFixed(0)} kg/m³): measure it to narrow the interval.`,
      weight: null,
    })
  const tanks = [...new Set(sheet.runs.map(({ tank }) => tank))]
  return {
    stillhold: 1,
    subject: `flow-${tanks.join('-') || 'check'}`,
    sections: tanks,
    verdict: worstVerdict(reasons),
    reasons: publishedReasons(reasons),
    fuel: sheet.fuel,
    density:
      density === null || !weighed
        ? null
        : {
            at_K: weighed.temperatureK.value,
            kg_per_m3: density.densityKgM3,
            std_kg_per_m3: density.stdDensityKgM3,
            source: density.source,
          },
    take_off_L_per_h: interval(sheet.takeOffM3PerS),
    take_off_source: sheet.takeOffSource,
    rules: sheet.rules ?? '14 CFR 23.955',
    attitude_needed_deg: sheet.climbDeg === null ? null : sheet.climbDeg + (sheet.marginDeg ?? 0),
    pumps: sheet.pumps,
    missing,
    runs: judged.map(({ result }) => result),
  }
}

/**
 * Runs that the sheet must have: each tank alone by gravity, or each tank with each pump alone, and once every pump together.
 *
 * Source: [14-cfr-23] 23.951(b)(1) no pump draws from more than one tank at a time; 23.955(b), (c)(1) each main and each
 * emergency pump, (c)(3) the pressure with main and emergency pumps together
 */
function missingRuns({ runs, tanks, pumps, omitted }: FlowSheet): string[] {
  const feeds = pumps === null || pumps.length === 0 ? [null] : pumps
  const wanted = tanks.flatMap(({ id: tank }) => feeds.map((pump) => ({ tank, pump })))
  const made = (tank: string | null, pump: string | null): boolean =>
    runs.some(
      (run) =>
        (tank === null || run.tank === tank) &&
        (pump === null ? pumps === null || run.feed === 'gravity' : run.pump === pump),
    )
  const left = wanted.filter(
    ({ tank, pump }) =>
      !made(tank, pump) && !omitted.some((one) => (one.tank ?? tank) === tank && (one.pump ?? pump) === pump),
  )
  const named = left.map(({ tank, pump }) => `${tank}, ${pump ?? 'gravity'}`)
  if (feeds.length > 1 && !made(null, together) && !omitted.some(({ pump }) => pump === together))
    named.push('every pump together, for the pressure at the engine')
  return named
}

/** What the sheet as a whole states, and what it lacks. */
function sheetReasons(sheet: FlowSheet, missing: readonly string[]): WeighedReason[] {
  const reasons: WeighedReason[] = []
  const say = (weight: Verdict | null, code: string, message: string) =>
    reasons.push({ weight, code, message })
  if (sheet.runs.length === 0) say('void', 'no-run', 'No delivery was entered.')
  else if (missing.length > 0) say('undecided', 'runs-missing', `Runs missing: ${missing.join('; ')}.`)
  if (sheet.pumps === null)
    say(
      'undecided',
      'pumps-not-stated',
      'Name every main and emergency pump, or none: each must feed from each tank alone.',
    )
  for (const { tank, pump, why } of sheet.omitted)
    say(null, 'run-omitted', `Not run: ${[tank, pump].filter(Boolean).join(', ')} (${why}).`)
  if (sheet.climbDeg !== null && sheet.marginDeg === null)
    say('undecided', 'margin-not-stated', 'State the margin on top of the steepest climb; 0 is an answer.')
  if (sheet.rules === 'ASTM F3063')
    say(
      'undecided',
      'rules-not-read',
      'The figures of ASTM F3063, for 14 CFR 23.2430 from amendment 23-64 on, were not read. Those of 14 CFR 23.955 up to amendment 23-63 are used: compare them with your edition.',
    )
  if (sheet.takeOffSource === null)
    say(
      null,
      'take-off-flow-unsourced',
      'Write down where the take-off fuel flow comes from: the engine maker’s figure comes first.',
    )
  return reasons
}

function judgeRun(run: FlowRun, sheet: FlowSheet): { result: FlowRunResult; reasons: WeighedReason[] } {
  const density = fuelDensity(sheet.fuel, run.temperatureK.value, sheet.measuredDensity)
  // An error of the thermometer moves the density by about 1.3 parts in a thousand a kelvin.
  const stdDensity = Math.hypot(density.stdDensityKgM3, 1.3e-3 * density.densityKgM3 * run.temperatureK.std)
  const flow = runFlow(run, { value: density.densityKgM3, std: stdDensity })
  const share = neededShare[run.feed]
  const required = { value: share * sheet.takeOffM3PerS.value, std: share * sheet.takeOffM3PerS.std }
  const margin = flow.value - required.value
  const half = z95 * Math.hypot(flow.std, required.std)
  const name = [run.tank, run.pump ?? run.feed].join(', ')
  const figures = `${inLPerH(flow.value)} ± ${inLPerH(z95 * flow.std)} L/h of ${inLPerH(required.value)} L/h needed (${rule[run.feed]})`
  const reasons: WeighedReason[] = []
  const say = (weight: Verdict | null, code: string, message: string) =>
    reasons.push({ weight, code, message })
  if (margin - half > 0) say(null, 'flow-above-requirement', `${name}: ${figures}.`)
  else if (margin + half < 0) say('fail', 'flow-below-requirement', `${name}: ${figures}: too little.`)
  else
    say(
      'undecided',
      'flow-too-close',
      `${name}: ${figures}: the interval holds the requirement; time a larger amount or weigh it better.`,
    )
  // Too little fuel under easier conditions is too little: a fail stands without them.
  if (margin + half >= 0)
    reasons.push(...conditionReasons(run, sheet, name), ...inletReasons(run, sheet, name))
  if (margin + half >= 0) reasons.push(...headReasons(run, flow.value * run.seconds.value, sheet, name))
  const result: FlowRunResult = {
    run: name,
    verdict: worstVerdict(reasons),
    flow_L_per_h: interval(flow),
    required_L_per_h: interval(required),
    share_percent: (100 * flow.value) / sheet.takeOffM3PerS.value,
    needed_percent: 100 * share,
    attitude_deg: run.attitudeDeg,
    in_tank_L: run.inTankM3 === null ? null : run.inTankM3.value * 1e3,
    outlet: run.outlet,
    inlet_pressure_Pa: run.inletPa?.value ?? null,
  }
  return { result, reasons }
}

/** A level aircraft proves nothing about the climb, and a can on the floor adds a head that the engine does not have. */
function conditionReasons(
  { attitudeDeg, outlet }: FlowRun,
  { climbDeg, marginDeg }: FlowSheet,
  name: string,
): WeighedReason[] {
  const reasons: WeighedReason[] = []
  const say = (weight: Verdict | null, code: string, message: string) =>
    reasons.push({ weight, code, message: `${name}: ${message}` })
  if (climbDeg === null || attitudeDeg === null)
    say('undecided', 'attitude-not-stated', 'the attitude of the run or the most critical one is not stated.')
  else if (attitudeDeg < climbDeg + (marginDeg ?? 0) - 0.5)
    say(
      'void',
      'attitude-too-flat',
      `nose up ${attitudeDeg}°, but ${climbDeg + (marginDeg ?? 0)}° is the most critical attitude.`,
    )
  if (outlet === null)
    say(
      'undecided',
      'outlet-not-stated',
      'not stated at which height it ran out, seen from the engine inlet.',
    )
  else if (outlet === 'lower')
    say(
      'void',
      'outlet-too-low',
      'it ran out lower than the engine inlet: that adds a head the engine does not have.',
    )
  return reasons
}

/** Full tanks prove nothing about the last fuel: no more than the unusable fuel and what the run took may have been in it. */
function headReasons(run: FlowRun, tookM3: number, { tanks }: FlowSheet, name: string): WeighedReason[] {
  const say = (weight: Verdict, code: string, message: string): WeighedReason[] => [
    { weight, code, message: `${name}: ${message}` },
  ]
  const more =
    'more than its unusable fuel and what the run needed; this proves nothing about the lowest head.'
  if (run.inTankM3 === null)
    return run.lowestHead === null
      ? say('undecided', 'head-not-stated', 'not stated how much the tank held when the run began.')
      : run.lowestHead
        ? []
        : say('void', 'head-too-high', `the tank held ${more}`)
  const unusableM3 = tanks.find(({ id }) => id === run.tank)?.unusableM3 ?? null
  if (unusableM3 === null)
    return say('undecided', 'unusable-not-stated', 'the system file states no unusable fuel of that tank.')
  const { value, std } = run.inTankM3
  if (value - z95 * std <= unusableM3 + tookM3) return []
  const liters = (m3: number): string => (m3 * 1e3).toFixed(1)
  return say(
    'void',
    'head-too-high',
    `the tank held ${liters(value)} L, ${liters(unusableM3)} L of it unusable, and the run took ${liters(tookM3)} L: ${more}`,
  )
}

/** Fuel reaches the engine within the pressures that it accepts. */
function inletReasons(
  { feed, inletPa }: FlowRun,
  { inletLimitsPa, inletLimitsSource }: FlowSheet,
  name: string,
): WeighedReason[] {
  if (feed === 'gravity') return []
  const say = (weight: Verdict | null, code: string, message: string): WeighedReason[] => [
    { weight, code, message: `${name}: ${message}` },
  ]
  if (inletPa === null || inletLimitsPa === null)
    return say(
      'undecided',
      'inlet-pressure-not-stated',
      'the pressure at the engine inlet, or what the engine accepts there, is not stated.',
    )
  const [low, high] = inletLimitsPa
  const half = z95 * inletPa.std
  const inPsi = (pa: number): string => (pa / 6894.757293).toFixed(2)
  const said = `${inPsi(inletPa.value)} psi at the engine inlet, ${inPsi(low)} to ${inPsi(high)} psi accepted (${inletLimitsSource ?? 'source not named'})`
  if (inletPa.value + half < low || inletPa.value - half > high)
    return say('fail', 'inlet-pressure-outside', `${said}.`)
  if (inletPa.value - half < low || inletPa.value + half > high)
    return say('undecided', 'inlet-pressure-near-limit', `${said}: measure it better.`)
  return say(null, 'inlet-pressure-within', `${said}.`)
}

function interval({ value, std }: Measured): Estimate {
  const [middle, half] = [value * litersPerHour, z95 * std * litersPerHour]
  return { value: middle, low: middle - half, high: middle + half }
}

function inLPerH(m3PerS: number): string {
  return (m3PerS * litersPerHour).toFixed(1)
}
