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
  const reasons = [...judged.flatMap(({ reasons }) => reasons), ...unlikelyEntries(sheet)]
  if (sheet.runs.length === 0)
    reasons.push({ code: 'no-run', message: 'No delivery was entered.', weight: 'void' })
  if (sheet.takeOffSource === null)
    reasons.push({
      code: 'take-off-flow-unsourced',
      message: 'Write down where the take-off fuel flow comes from: the engine maker’s figure comes first.',
      weight: null,
    })
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
    climb_attitude_deg: sheet.climbDeg,
    runs: judged.map(({ result }) => result),
  }
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
  if (margin + half >= 0) reasons.push(...conditionReasons(run, sheet, name))
  const result: FlowRunResult = {
    run: name,
    verdict: worstVerdict(reasons),
    flow_L_per_h: interval(flow),
    required_L_per_h: interval(required),
    share_percent: (100 * flow.value) / sheet.takeOffM3PerS.value,
    needed_percent: 100 * share,
    attitude_deg: run.attitudeDeg,
  }
  return { result, reasons }
}

/** A level aircraft with full tanks proves nothing about the climb on the last fuel. */
function conditionReasons(run: FlowRun, { climbDeg }: FlowSheet, name: string): WeighedReason[] {
  const reasons: WeighedReason[] = []
  const say = (weight: Verdict | null, code: string, message: string) =>
    reasons.push({ weight, code, message })
  if (run.lowestHead === null)
    say(
      'undecided',
      'head-not-stated',
      `${name}: not stated that the tank held only its unusable fuel and what the run needed.`,
    )
  else if (!run.lowestHead)
    say(
      'void',
      'head-too-high',
      `${name}: the tank held more than its unusable fuel and what the run needed; this proves nothing about the lowest head.`,
    )
  if (climbDeg === null || run.attitudeDeg === null)
    say(
      'undecided',
      'attitude-not-stated',
      `${name}: the attitude of the run or the most critical one is not stated.`,
    )
  else if (run.attitudeDeg < climbDeg - 0.5)
    say(
      'void',
      'attitude-too-flat',
      `${name}: nose up ${run.attitudeDeg}°, but ${climbDeg}° is the most critical attitude.`,
    )
  return reasons
}

function interval({ value, std }: Measured): Estimate {
  const [middle, half] = [value * litersPerHour, z95 * std * litersPerHour]
  return { value: middle, low: middle - half, high: middle + half }
}

function inLPerH(m3PerS: number): string {
  return (m3PerS * litersPerHour).toFixed(1)
}
