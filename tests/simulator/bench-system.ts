import type { Allowance, Channel, System } from '#analysis/model/system.ts'
import type { Scenario } from './scenario.ts'
import { psiPa, sccPerMinMolPerS } from './units.ts'

/** The hold id of every simulated system. */
export const simulatedHoldId = 'bench-hold'

/** The system file of a scenario, as text after the contract and as the values that text means. */
export function benchSystem(scenario: Scenario): { readonly system: System; readonly text: string } {
  const { stated, procedure, bench, name } = scenario
  const section = stated.kind === 'line' ? 'feed-line' : 'wing-tank'
  const low = Math.round(bench.pressure.lowPa / psiPa)
  const high = Math.round(bench.pressure.highPa / psiPa)
  const spanPa = bench.pressure.highPa - bench.pressure.lowPa
  const measures = bench.pressure.kind === 'gauge' ? 'gauge-pressure' : 'absolute-pressure'
  const stepPsi = Number((spanPa / (2 ** bench.pressure.bits - 1) / psiPa).toPrecision(3))
  const from = (field: string) => ({ measurement: 'logger', field, tags: {} })
  const plain = { scale: null, rangeSi: null, resolutionSi: null, accuracySi: null, calibration: null }

  const channels: Channel[] = [
    {
      ...plain,
      id: 'p-bench',
      measures,
      section,
      from: from('p1'),
      unit: 'psi',
      rangeSi: [low * psiPa, high * psiPa],
      resolutionSi: bench.statesResolution ? stepPsi * psiPa : null,
      accuracySi: 0.0025 * (high - low) * psiPa,
    },
  ]
  const lines = [
    'stillhold: 1',
    `name: simulated bench, ${name}`,
    'channels:',
    '  - id: p-bench',
    `    measures: ${measures}`,
    `    section: ${section}`,
    '    from: { measurement: logger, field: p1 }',
    '    unit: psi',
    `    range: ${low} psi to ${high} psi`,
    ...(bench.statesResolution ? [`    resolution: ${stepPsi} psi`] : []),
    '    accuracy: 0.25 % of span',
  ]
  if (bench.thermometer !== null) {
    channels.push({
      ...plain,
      id: 't-bench',
      measures: 'temperature',
      section,
      from: from('t1'),
      unit: 'degC',
    })
    lines.push(
      '  - id: t-bench',
      '    measures: temperature',
      `    section: ${section}`,
      '    from: { measurement: logger, field: t1 }',
      '    unit: degC',
    )
  }
  if (bench.barometer !== null) {
    channels.push({
      ...plain,
      id: 'baro',
      measures: 'barometric-pressure',
      section: null,
      from: from('baro'),
      unit: 'hPa',
    })
    lines.push(
      '  - id: baro',
      '    measures: barometric-pressure',
      '    from: { measurement: logger, field: baro }',
      '    unit: hPa',
    )
  }

  const stretch = stated.stretchPercentPerBar
  const { pressurePsi, statedSettleS, holdS, allow: statedAllow } = procedure
  const maxPsi = Number((pressurePsi * 1.5).toFixed(2))
  // Under suction the pressure rises.
  const change = pressurePsi < 0 ? 'rise' : 'drop'
  const allow: Allowance =
    statedAllow.kind === 'drop'
      ? { kind: change, dropPa: statedAllow.dropPsi * psiPa }
      : { kind: 'gas-leak', molPerS: statedAllow.sccPerMin * sccPerMinMolPerS }
  const fittings =
    stated.kind === 'line'
      ? ([
          ['F01', 'flare', 'selector outlet'],
          ['F02', 'flare', 'strainer inlet'],
          ['F03', 'hose-end', 'rig hose'],
        ] as const)
      : ([
          ['F01', 'cap', 'filler cap'],
          ['F02', 'sender-gasket', 'quantity sender'],
          ['F03', 'drain-valve', 'sump drain'],
          ['F04', 'flare', 'outlet'],
        ] as const)
  lines.push(
    'sections:',
    `  - id: ${section}`,
    '    medium: air',
    `    volume: ${stated.volumeL} L ± ${stated.tolerancePercent} %`,
    ...(maxPsi > 0 ? [`    max-pressure: ${maxPsi} psi`] : []),
    ...(stretch === null ? [] : [`    stretch: ${stretch} % per bar`]),
    'fittings:',
    ...fittings.map(
      ([id, kind, title]) => `  - { id: ${id}, section: ${section}, kind: ${kind}, name: ${title} }`,
    ),
    'holds:',
    `  - id: ${simulatedHoldId}`,
    `    sections: [${section}]`,
    `    pressure: ${pressurePsi} psi`,
    `    settle: ${statedSettleS / 60} min`,
    `    hold: ${holdS / 60} min`,
    statedAllow.kind === 'drop'
      ? `    allow: { ${change}: ${statedAllow.dropPsi} psi }`
      : `    allow: { leak: ${statedAllow.sccPerMin} scc/min }`,
    '',
  )
  const volumeM3 = stated.volumeL / 1000
  const system: System = {
    name: `simulated bench, ${name}`,
    sccReferenceK: 273.15,
    channels,
    sections: [
      {
        id: section,
        medium: 'air',
        volumeM3,
        volumeToleranceM3: (volumeM3 * stated.tolerancePercent) / 100,
        maxPressurePa: maxPsi > 0 ? maxPsi * psiPa : null,
        maxVacuumPa: null,
        stretchPerPa: stretch === null ? null : stretch / 100 / 1e5,
        kind: null,
        capacityM3: null,
        unusableM3: null,
      },
    ],
    fittings: fittings.map(([id, kind, title]) => ({
      id,
      section,
      kind,
      size: null,
      name: title,
      material: null,
      torqueNm: null,
      behind: [],
    })),
    valves: [],
    holds: [
      {
        id: simulatedHoldId,
        sections: [section],
        shut: [],
        pressurePa: pressurePsi * psiPa,
        settleS: statedSettleS,
        holdS,
        allow,
        allowSource: null,
        rig: null,
      },
    ],
  }
  return { system, text: lines.join('\n') }
}
