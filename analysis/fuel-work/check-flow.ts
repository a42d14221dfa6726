import type { Estimate } from '#analysis/model/hold-result.ts'
import { z95 } from '#analysis/numeric/normal-distribution.ts'
import { fuelDensity, massFromScale } from '#analysis/physics/fuel-properties.ts'
import { findings, judged, type WeighedReason } from './findings.ts'
import type { FlowRun, FlowSheet, Measured } from './flow-sheet.ts'

const say = findings({
  void: {
    'no-run': 'No delivery was entered.',
    'attitude-too-flat': '{run}: nose up {at}°, but {needed}° is the most critical attitude.',
    'outlet-too-low':
      '{run}: the outlet was below the engine inlet: that adds a head the engine does not have.',
    'head-too-high':
      '{run}: the tank held {held}more than its unusable fuel and what the run needed; this proves nothing about the lowest head.',
  },
  fail: {
    'flow-below-requirement': '{flow}: too little.',
    'inlet-pressure-outside': '{inlet}.',
  },
  undecided: {
    'runs-missing': 'Runs missing: {missing}.',
    'pumps-not-stated': 'Name every main and emergency pump, or none: each must feed from each tank alone.',
    'margin-not-stated': 'State the margin on top of the steepest climb; 0 is an answer.',
    'rules-not-read':
      'The figures of ASTM F3063, for 14 CFR 23.2430 from amendment 23-64 on, were not read. Those of 14 CFR 23.955 up to amendment 23-63 are used: compare them with your edition.',
    'flow-too-close': '{flow}: the interval includes the requirement; time more fuel or weigh it better.',
    'attitude-not-stated': '{run}: the attitude of the run or the most critical one is not stated.',
    'outlet-not-stated': '{run}: the height of the outlet relative to the engine inlet is not stated.',
    'head-not-stated': '{run}: the fuel in the tank at the start of the run is not stated.',
    'unusable-not-stated': '{run}: the system file states no unusable fuel of that tank.',
    'inlet-pressure-not-stated':
      '{run}: the pressure at the engine inlet, or what the engine accepts there, is not stated.',
    'inlet-pressure-near-limit': '{inlet}: measure it better.',
    'take-off-flow-unlikely':
      'A take-off flow of {flow} L/h is not that of a light aircraft (8 to 250 L/h): is the unit right?',
    'attitude-unlikely': 'Nose up {angle}° is not a climb attitude: is it in degrees?',
    'not-a-tank': '{tank} is not a tank: name the tank that fed the run.',
  },
  note: {
    'run-omitted': 'Not run: {what} ({why}).',
    'take-off-flow-unsourced':
      'Write down where the take-off fuel flow comes from: the engine maker’s figure comes first.',
    'density-of-grade':
      'Density taken from the grade ({density} ± {half} kg/m³): measure it to narrow the interval.',
    'flow-above-requirement': '{flow}.',
    'inlet-pressure-within': '{inlet}.',
  },
})

/**
 * Share of the take-off fuel flow that a feed must deliver.
 *
 * Source: 14 CFR 23.955(b) gravity 150 %, (c) pump 125 % (2014)
 */
const neededShare: Readonly<Record<FlowRun['feed'], number>> = { gravity: 1.5, pump: 1.25 }

const rule: Readonly<Record<FlowRun['feed'], string>> = {
  gravity: '150 % of take-off flow, 14 CFR 23.955(b)',
  pump: '125 % of take-off flow, 14 CFR 23.955(c)',
}

/** Name of the run with every pump on: their pressures add up. */
const together = 'all'

const litersPerHour = 3.6e6

/**
 * Volume flow of one run and its standard uncertainty.
 *
 * Q = m/(ρ t) or V/t; u²(Q)/Q² is the sum of the squared relative uncertainties, as the inputs are independent.
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

/** Take-off flows of light aircraft engines, [m³/s]: 8 to 250 L/h. Own figures; the largest six-cylinder burns some 130. */
const likelyTakeOffM3PerS = [8 / 3.6e6, 250 / 3.6e6] as const
/** Nose up, [°]: climbs of light aircraft and a margin. Own figures. */
const likelyAttitudeDeg = [-15, 30] as const
/**
 * Judges every run by the guard-band rule of the holds: pass only if the whole 95 % interval of flow less requirement is
 * above zero, fail only if the whole interval is below.
 */
export function checkFlow(sheet: FlowSheet) {
  const runs = sheet.runs.map((run) => judgeRun(run, sheet))
  const missing = missingRuns(sheet)
  const weighed = sheet.runs.find(({ delivered }) => delivered.by === 'mass')
  const density = weighed ? fuelDensity(sheet.fuel, weighed.temperatureK.value, sheet.measuredDensity) : null
  const reasons = [
    ...runs.flatMap(({ reasons }) => reasons),
    ...unlikelyEntries(sheet),
    ...sheetReasons(sheet, missing),
    ...(density?.source === 'grade'
      ? say('density-of-grade', {
          density: density.densityKgM3.toFixed(0),
          half: (2 * density.stdDensityKgM3).toFixed(0),
        })
      : []),
  ]
  const tanks = [...new Set(sheet.runs.map(({ tank }) => tank))]
  return {
    stillhold: 1 as const,
    subject: `flow-${tanks.join('-') || 'check'}`,
    sections: tanks,
    ...judged(reasons),
    fuel: sheet.fuel,
    density: density &&
      weighed && {
        at_K: weighed.temperatureK.value,
        kg_per_m3: density.densityKgM3,
        std_kg_per_m3: density.stdDensityKgM3,
        source: density.source,
      },
    take_off_L_per_h: interval(sheet.takeOffM3PerS),
    take_off_source: sheet.takeOffSource,
    rules: sheet.rules ?? '14 CFR 23.955',
    /** The attitude required of every run: climb and margin. */
    attitude_needed_deg: sheet.climbDeg === null ? null : sheet.climbDeg + (sheet.marginDeg ?? 0),
    pumps: sheet.pumps,
    missing,
    runs: runs.map(({ result }) => result),
  }
}

/** Result of a flow check, sealed as a record of kind `flow`. Intervals are 95 %. */
export type FlowResult = ReturnType<typeof checkFlow>

/**
 * Required runs: each tank alone by gravity, or each tank with each pump alone, and once every pump together.
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

/** Statements of the whole sheet, and missing ones. */
function sheetReasons(sheet: FlowSheet, missing: readonly string[]): WeighedReason[] {
  const runsMissing = missing.length > 0 ? say('runs-missing', { missing: missing.join('; ') }) : []
  return [
    ...(sheet.runs.length === 0 ? say('no-run') : runsMissing),
    ...(sheet.pumps === null ? say('pumps-not-stated') : []),
    ...sheet.omitted.flatMap(({ tank, pump, why }) =>
      say('run-omitted', { what: [tank, pump].filter((one) => one !== null), why }),
    ),
    ...(sheet.climbDeg !== null && sheet.marginDeg === null ? say('margin-not-stated') : []),
    ...(sheet.rules === 'ASTM F3063' ? say('rules-not-read') : []),
    ...(sheet.takeOffSource === null ? say('take-off-flow-unsourced') : []),
  ]
}

/** Implausible entries: each asks for a correction and keeps the check open until then. */
function unlikelyEntries({ takeOffM3PerS, climbDeg, marginDeg, runs, tanks }: FlowSheet): WeighedReason[] {
  const [least, most] = likelyTakeOffM3PerS
  const [flattest, steepest] = likelyAttitudeDeg
  const needed = climbDeg === null ? null : climbDeg + (marginDeg ?? 0)
  const angles = [climbDeg, needed, ...runs.map((run) => run.attitudeDeg)].filter((angle) => angle !== null)
  const strange = runs.map(({ tank }) => tank).filter((tank) => !tanks.some(({ id }) => id === tank))
  return [
    ...(takeOffM3PerS.value < least || takeOffM3PerS.value > most
      ? say('take-off-flow-unlikely', { flow: (takeOffM3PerS.value * litersPerHour).toFixed(0) })
      : []),
    ...[...new Set(angles)]
      .filter((angle) => angle < flattest || angle > steepest)
      .flatMap((angle) => say('attitude-unlikely', { angle })),
    ...[...new Set(strange)].flatMap((tank) => say('not-a-tank', { tank })),
  ]
}

function judgeRun(run: FlowRun, sheet: FlowSheet) {
  const density = fuelDensity(sheet.fuel, run.temperatureK.value, sheet.measuredDensity)
  // An error of the thermometer changes the density by about 1.3 parts in a thousand a kelvin.
  const stdDensity = Math.hypot(density.stdDensityKgM3, 1.3e-3 * density.densityKgM3 * run.temperatureK.std)
  const flow = runFlow(run, { value: density.densityKgM3, std: stdDensity })
  const share = neededShare[run.feed]
  const required = { value: share * sheet.takeOffM3PerS.value, std: share * sheet.takeOffM3PerS.std }
  const margin = flow.value - required.value
  const half = z95 * Math.hypot(flow.std, required.std)
  const name = [run.tank, run.pump ?? run.feed].join(', ')
  const words = `${name}: ${inLPerH(flow.value)} ± ${inLPerH(z95 * flow.std)} L/h of ${inLPerH(required.value)} L/h needed (${rule[run.feed]})`
  const reasons =
    margin + half < 0
      ? // Too little fuel under easier conditions is too little: a fail needs no conditions.
        say('flow-below-requirement', { flow: words })
      : [
          ...say(margin - half > 0 ? 'flow-above-requirement' : 'flow-too-close', { flow: words }),
          ...conditionReasons(run, sheet, name),
          ...inletReasons(run, sheet, name),
          ...headReasons(run, flow.value * run.seconds.value, sheet, name),
        ]
  const result = {
    run: name,
    verdict: judged(reasons).verdict,
    flow_L_per_h: interval(flow),
    required_L_per_h: interval(required),
    /** Measured over take-off flow; 150 or 125 is needed. */
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
  { attitudeDeg: at, outlet }: FlowRun,
  { climbDeg, marginDeg }: FlowSheet,
  run: string,
): WeighedReason[] {
  const needed = climbDeg === null ? null : climbDeg + (marginDeg ?? 0)
  const isFlat = at !== null && needed !== null && at < needed - 0.5
  return [
    ...(needed === null || at === null ? say('attitude-not-stated', { run }) : []),
    ...(isFlat ? say('attitude-too-flat', { run, at, needed }) : []),
    ...(outlet === null ? say('outlet-not-stated', { run }) : []),
    ...(outlet === 'lower' ? say('outlet-too-low', { run }) : []),
  ]
}

/** Full tanks prove nothing about the last fuel: the tank may contain only the unusable fuel and what the run took. */
function headReasons(of: FlowRun, tookM3: number, { tanks }: FlowSheet, run: string): WeighedReason[] {
  if (of.inTankM3 === null)
    return of.lowestHead === null
      ? say('head-not-stated', { run })
      : of.lowestHead
        ? []
        : say('head-too-high', { run, held: '' })
  const unusableM3 = tanks.find(({ id }) => id === of.tank)?.unusableM3 ?? null
  if (unusableM3 === null) return say('unusable-not-stated', { run })
  const { value, std } = of.inTankM3
  if (value - z95 * std <= unusableM3 + tookM3) return []
  const [held, unusable, took] = [value, unusableM3, tookM3].map((m3) => (m3 * 1e3).toFixed(1))
  return say('head-too-high', {
    run,
    held: `${held} L, ${unusable} L of it unusable, and the run took ${took} L: `,
  })
}

/** Fuel must reach the engine within the pressures that it accepts. */
function inletReasons(
  { feed, inletPa }: FlowRun,
  { inletLimitsPa, inletLimitsSource }: FlowSheet,
  run: string,
): WeighedReason[] {
  if (feed === 'gravity') return []
  if (inletPa === null || inletLimitsPa === null) return say('inlet-pressure-not-stated', { run })
  const [low, high] = inletLimitsPa
  const half = z95 * inletPa.std
  const [is, from, to] = [inletPa.value, low, high].map((pa) => (pa / 6894.757293).toFixed(2))
  const inlet = `${run}: ${is} psi at the engine inlet, ${from} to ${to} psi accepted (${inletLimitsSource ?? 'source not named'})`
  if (inletPa.value + half < low || inletPa.value - half > high)
    return say('inlet-pressure-outside', { inlet })
  const isNear = inletPa.value - half < low || inletPa.value + half > high
  return say(isNear ? 'inlet-pressure-near-limit' : 'inlet-pressure-within', { inlet })
}

function interval({ value, std }: Measured): Estimate {
  const [middle, half] = [value * litersPerHour, z95 * std * litersPerHour]
  return { value: middle, low: middle - half, high: middle + half }
}

function inLPerH(m3PerS: number): string {
  return (m3PerS * litersPerHour).toFixed(1)
}
