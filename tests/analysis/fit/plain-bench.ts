/**
 * Holds as an outsider would make them to try the program: written as text after the contract alone, with the ideal gas law
 * and nothing of the project's own simulator.
 */

/** One line of the logger; null where the field is missing. */
export interface PlainRow {
  readonly timeS: number
  readonly psi: number | null
  readonly degC: number | null
  readonly hPa: number | null
}

/** One mark, as it stands in the file behind `mark,`. */
export interface PlainMark {
  readonly timeS: number
  readonly text: string
}

export interface PlainTimes {
  readonly pumpS: number
  readonly settleS: number
  readonly holdS: number
  readonly ventS: number
  readonly endS: number
}

export interface PlainHold {
  readonly system: string
  readonly rows: readonly PlainRow[]
  readonly marks: readonly PlainMark[]
  readonly times: PlainTimes
  /** Drop that the leak alone causes in the stated hold, [psi]. */
  readonly leakPsi: number
}

export interface PlainOptions {
  /** Leak over the allowance. */
  readonly leak?: number
  readonly hz?: number
  readonly seed?: number
  /** Heat of pumping left in the gas when the settle begins, as a share of the gauge pressure. */
  readonly heat?: number
  /** Drift of the room, [K/h], and amplitude of a swing of ten minutes, [K]. */
  readonly rampKPerH?: number
  readonly swingK?: number
  /** How late the thermometer shows the gas, pump-up heat and all, [s]; on the wall, it shows the room, where null. */
  readonly inGasS?: number | null
  /** Standard deviation of the readings, [psi], [K]. */
  readonly noisePsi?: number
  readonly noiseK?: number
  readonly barometerPaPerH?: number
  /** m of a leak that flows as (p² − p_b²)^m. */
  readonly flowExponent?: number
}

const kinds = {
  line: {
    section: 'left-feed',
    hold: 'left-feed-10psi',
    litres: 0.35,
    psi: 10,
    dropPsi: 0.1,
    rangePsi: 30,
    pumpUpS: 15,
    heatS: 20,
    statedSettleS: 180,
    statedHoldS: 600,
    ventS: 40,
  },
  tank: {
    section: 'left-tank',
    hold: 'left-tank-1psi',
    litres: 80,
    psi: 1,
    dropPsi: 0.05,
    rangePsi: 3,
    pumpUpS: 90,
    heatS: 200,
    statedSettleS: 900,
    statedHoldS: 1200,
    ventS: 90,
  },
} as const

export type PlainKind = keyof typeof kinds

export const plainKinds = kinds

const psiPa = 6894.757293168
const atmospherePa = 101_325
const epochNs = 1_767_225_600_000_000_000n

/** The system file: two sections, each with its own gauge, a valve between them. */
function plainSystem(): string {
  const channel = (id: string, section: string, field: string, rangePsi: number) => `
  - id: p-${id}
    measures: gauge-pressure
    section: ${section}
    from: { measurement: logger, field: ${field} }
    unit: psi
    range: ${-rangePsi / 10} psi to ${rangePsi} psi`
  const { line, tank } = kinds
  return `stillhold: 1
name: high-wing floatplane, left side
channels:${channel('line', line.section, 'p1', line.rangePsi)}${channel('tank', tank.section, 'p2', tank.rangePsi)}
  - id: t-line
    measures: temperature
    section: ${line.section}
    from: { measurement: logger, field: t1 }
    unit: degC
  - id: t-tank
    measures: temperature
    section: ${tank.section}
    from: { measurement: logger, field: t2 }
    unit: degC
  - id: baro
    measures: barometric-pressure
    from: { measurement: logger, field: baro }
    unit: hPa
sections:
  - { id: ${line.section}, medium: air, volume: ${line.litres} L ± 10 %, max-pressure: 15 psi, stretch: 0 % per bar }
  - { id: ${tank.section}, medium: air, volume: ${tank.litres} L ± 5 %, max-pressure: 2 psi }
fittings:
  - { id: F01, section: ${line.section}, kind: flare, size: -6, name: selector inlet }
  - { id: F02, section: ${line.section}, kind: hose-end, name: strainer hose }
  - { id: F03, section: ${tank.section}, kind: cap, name: filler cap }
  - { id: F04, section: ${tank.section}, kind: sender-gasket, name: quantity sender }
valves:
  - { id: V1, between: [${tank.section}, ${line.section}], name: tank outlet }
  - { id: V2, between: [${line.section}], name: selector cap }
holds:
  - { id: ${line.hold}, sections: [${line.section}], shut: [V1, V2], pressure: ${line.psi} psi, settle: 3 min, hold: 10 min, allow: { drop: ${line.dropPsi} psi } }
  - { id: ${tank.hold}, sections: [${tank.section}], shut: [V1], pressure: ${tank.psi} psi, settle: 15 min, hold: 20 min, allow: { drop: ${tank.dropPsi} psi } }
`
}

/** A gas hold of a rigid section, one line of the logger after the other. */
export function plainHold(kind: PlainKind, options: PlainOptions = {}): PlainHold {
  const spec = kinds[kind]
  const { leak = 0, hz = 1, seed = 1, heat = 0.1, rampKPerH = 0.2, swingK = 0.03, inGasS = null } = options
  const { noisePsi = spec.rangePsi * 1e-4, noiseK = 0.01, barometerPaPerH = 20, flowExponent = 1 } = options
  const normal = normals(seed)
  const pumpS = 30
  const settleS = pumpS + spec.pumpUpS + 5
  const holdS = settleS + spec.statedSettleS
  const ventS = holdS + spec.statedHoldS
  const endS = ventS + spec.ventS
  const leakPsi = leak * spec.dropPsi
  const stepS = 1 / hz
  // Pressure over temperature, in units of the test pressure at 293.15 K: the amount of gas.
  const testPa = spec.psi * psiPa
  const paPerS = (leakPsi * psiPa) / spec.statedHoldS
  const fullPa2 = atmospherePa * testPa * 2 + testPa ** 2
  const rows: PlainRow[] = []
  let cold = 0
  let felt: number | null = null
  for (let k = 0; k * stepS <= endS; k++) {
    const timeS = k * stepS
    const roomC = 20 + (rampKPerH * timeS) / 3600 + swingK * Math.sin((2 * Math.PI * timeS) / 600)
    const airPa = atmospherePa - 300 + (barometerPaPerH * timeS) / 3600
    let gaugePa = 0
    let gasC = roomC
    if (timeS > pumpS && timeS < settleS)
      gaugePa = testPa * (1 + heat) * Math.min(1, (timeS - pumpS) / spec.pumpUpS)
    else if (timeS >= settleS) {
      // Gas of room temperature that fills the section to its pressure and is still warm from the pumping.
      if (cold === 0) cold = (airPa + testPa * 1.01) / (roomC + 273.15)
      if (timeS < ventS) {
        const kelvin = roomC + 273.15
        const warm = testPa * heat * Math.exp(-(timeS - settleS) / spec.heatS)
        const pressurePa = cold * kelvin
        const driven = Math.max(0, (pressurePa ** 2 - airPa ** 2) / fullPa2)
        cold -= (paPerS * driven ** flowExponent * stepS) / kelvin
        gaugePa = pressurePa + warm - airPa
        gasC += (kelvin * warm) / pressurePa
      } else gaugePa = (cold * (roomC + 273.15) - airPa) * Math.exp(-(timeS - ventS) / (spec.ventS / 12))
    }
    felt = felt === null || inGasS === null ? gasC : felt + (gasC - felt) * -Math.expm1(-stepS / inGasS)
    rows.push({
      timeS,
      psi: rounded(gaugePa / psiPa + noisePsi * normal(), 4),
      degC: rounded((inGasS === null ? roomC : felt) + noiseK * normal(), 2),
      hPa: rounded(airPa / 100 + 0.03 * normal(), 2),
    })
  }
  const stage = (name: string, timeS: number) => ({
    timeS,
    text: `kind=stage,hold=${spec.hold} name="${name}"`,
  })
  const marks = [
    stage('pump-up', pumpS),
    stage('settle', settleS),
    stage('hold', holdS),
    stage('vent', ventS),
    stage('end', endS),
  ]
  return { system: plainSystem(), rows, marks, times: { pumpS, settleS, holdS, ventS, endS }, leakPsi }
}

/** The recording's text. */
export function plainText({ rows, marks }: Pick<PlainHold, 'rows' | 'marks'>, kind: PlainKind): string {
  const [p, t] = kind === 'line' ? ['p1', 't1'] : ['p2', 't2']
  const lines: { timeS: number; text: string }[] = []
  for (const { timeS, psi, degC, hPa } of rows) {
    const fields = [
      ...(psi === null ? [] : [`${p}=${psi}`]),
      ...(degC === null ? [] : [`${t}=${degC}`]),
      ...(hPa === null ? [] : [`baro=${hPa}`]),
    ]
    if (fields.length > 0) lines.push({ timeS, text: `logger ${fields.join(',')} ${plainStampNs(timeS)}` })
  }
  const marked = marks.map(({ timeS, text }) => ({ timeS, text: `mark,${text} ${plainStampNs(timeS)}` }))
  // A mark stands before the first line that is later, wherever the lines' own times go.
  const out = ['# stillhold recording 1']
  let next = 0
  for (const line of lines) {
    while (next < marked.length && marked[next].timeS <= line.timeS) out.push(marked[next++].text)
    out.push(line.text)
  }
  while (next < marked.length) out.push(marked[next++].text)
  return `${out.join('\n')}\n`
}

function plainStampNs(timeS: number): string {
  return String(epochNs + BigInt(Math.round(timeS * 1e6)) * 1000n)
}

function rounded(value: number, digits: number): number {
  return Number(value.toFixed(digits))
}

/** Normal deviates from a small multiplicative generator (Lehmer, 48271) through the sum of twelve. */
function normals(seed: number): () => number {
  let state = seed * 7919 + 12_345
  return () => {
    let sum = -6
    for (let i = 0; i < 12; i++) {
      state = (state * 48_271) % 2_147_483_647
      sum += state / 2_147_483_647
    }
    return sum
  }
}
