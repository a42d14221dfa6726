import { type WrittenValue, written } from './edit-system-file.ts'

/** A generic fuel system to begin from: invented, as every figure of it. */
export interface Layout {
  readonly id: string
  readonly about: string
  /** Tanks and lines, with what they hold for a first file; the owner measures their own. */
  readonly sections: readonly (readonly [id: string, kind: 'tank' | 'line', volume: string])[]
  readonly valves: readonly (readonly [id: string, kind: string, name: string, from: string, to?: string])[]
  readonly fittings: readonly (readonly [section: string, kind: string, name: string, size?: number])[]
}

const tankFittings = (tank: string, name: string): Layout['fittings'] => [
  [tank, 'cap', `${name} filler cap`],
  [tank, 'sender-gasket', `${name} quantity sender`],
  [tank, 'drain-valve', `${name} drain`],
  [tank, 'flare', `${name} outlet`, -6],
]
const forwardFittings: Layout['fittings'] = [
  ['firewall-forward', 'hose-end', 'hose at the firewall', -6],
  ['firewall-forward', 'hose-end', 'hose at the pump', -6],
  ['firewall-forward', 'flare', 'carburetor or injector inlet', -6],
]

export const layouts: readonly Layout[] = [
  {
    id: 'high-wing',
    about: 'gravity tanks in a high wing, one selector both, left, right, off',
    sections: [
      ['left-tank', 'tank', '60 L ± 5 %'],
      ['right-tank', 'tank', '60 L ± 5 %'],
      ['feed-lines', 'line', '0.8 L ± 10 %'],
      ['firewall-forward', 'line', '0.4 L ± 10 %'],
    ],
    valves: [
      ['V1', 'shut-off', 'left tank outlet, shut or plugged', 'left-tank', 'feed-lines'],
      ['V2', 'shut-off', 'right tank outlet, shut or plugged', 'right-tank', 'feed-lines'],
      ['V3', 'selector', 'fuel selector', 'feed-lines', 'firewall-forward'],
      ['V4', 'cap', 'left vent, plugged for the test', 'left-tank'],
      ['V5', 'cap', 'right vent, plugged for the test', 'right-tank'],
    ],
    fittings: [
      ...tankFittings('left-tank', 'left'),
      ...tankFittings('right-tank', 'right'),
      ['feed-lines', 'flare', 'selector left inlet', -6],
      ['feed-lines', 'flare', 'selector right inlet', -6],
      ...forwardFittings,
    ],
  },
  {
    id: 'low-wing',
    about: 'two tanks in a low wing, selector, electric boost pump',
    sections: [
      ['left-tank', 'tank', '70 L ± 5 %'],
      ['right-tank', 'tank', '70 L ± 5 %'],
      ['left-feed', 'line', '0.5 L ± 10 %'],
      ['right-feed', 'line', '0.5 L ± 10 %'],
      ['firewall-forward', 'line', '0.5 L ± 10 %'],
    ],
    valves: [
      ['V1', 'shut-off', 'left tank outlet, shut or plugged', 'left-tank', 'left-feed'],
      ['V2', 'shut-off', 'right tank outlet, shut or plugged', 'right-tank', 'right-feed'],
      ['V3', 'selector', 'fuel selector, left', 'left-feed', 'firewall-forward'],
      ['V4', 'selector', 'fuel selector, right', 'right-feed', 'firewall-forward'],
      ['V5', 'cap', 'left vent, plugged for the test', 'left-tank'],
      ['V6', 'cap', 'right vent, plugged for the test', 'right-tank'],
    ],
    fittings: [
      ...tankFittings('left-tank', 'left'),
      ...tankFittings('right-tank', 'right'),
      ['left-feed', 'flare', 'selector left inlet', -6],
      ['right-feed', 'flare', 'selector right inlet', -6],
      ['firewall-forward', 'flare', 'boost pump inlet', -6],
      ['firewall-forward', 'flare', 'boost pump outlet', -6],
      ...forwardFittings,
    ],
  },
  {
    id: 'header-tank',
    about: 'wing tanks that feed one header tank, shut-off at the header',
    sections: [
      ['left-tank', 'tank', '50 L ± 5 %'],
      ['right-tank', 'tank', '50 L ± 5 %'],
      ['header-tank', 'tank', '6 L ± 5 %'],
      ['firewall-forward', 'line', '0.4 L ± 10 %'],
    ],
    valves: [
      ['V1', 'shut-off', 'left feed to the header, shut or plugged', 'left-tank', 'header-tank'],
      ['V2', 'shut-off', 'right feed to the header, shut or plugged', 'right-tank', 'header-tank'],
      ['V3', 'shut-off', 'fuel shut-off', 'header-tank', 'firewall-forward'],
      ['V4', 'cap', 'left vent, plugged for the test', 'left-tank'],
      ['V5', 'cap', 'right vent, plugged for the test', 'right-tank'],
      ['V6', 'cap', 'header vent, plugged for the test', 'header-tank'],
    ],
    fittings: [
      ...tankFittings('left-tank', 'left'),
      ...tankFittings('right-tank', 'right'),
      ['header-tank', 'flare', 'header left inlet', -6],
      ['header-tank', 'flare', 'header right inlet', -6],
      ['header-tank', 'drain-valve', 'header drain'],
      ...forwardFittings,
    ],
  },
  {
    id: 'fuselage-tank',
    about: 'one tank in the fuselage, one shut-off',
    sections: [
      ['main-tank', 'tank', '70 L ± 5 %'],
      ['firewall-forward', 'line', '0.5 L ± 10 %'],
    ],
    valves: [
      ['V1', 'shut-off', 'fuel shut-off', 'main-tank', 'firewall-forward'],
      ['V2', 'cap', 'tank vent, plugged for the test', 'main-tank'],
    ],
    fittings: [...tankFittings('main-tank', 'tank'), ...forwardFittings],
  },
  {
    id: 'nose-tank',
    about: 'one gravity tank ahead of the panel, shut-off and gascolator below it',
    sections: [
      ['nose-tank', 'tank', '45 L ± 5 %'],
      ['firewall-forward', 'line', '0.3 L ± 10 %'],
    ],
    valves: [
      ['V1', 'shut-off', 'fuel shut-off', 'nose-tank', 'firewall-forward'],
      ['V2', 'cap', 'cap vent, plugged for the test', 'nose-tank'],
    ],
    fittings: [
      ...tankFittings('nose-tank', 'tank'),
      ['firewall-forward', 'other', 'gascolator bowl gasket'],
      ...forwardFittings,
    ],
  },
]

/** Instruments that a first file may be written for. */
export const instruments = {
  dial: 'a dial gauge and a thermometer, read by eye and moved from port to port',
  moved: 'a logger with one gauge and one thermometer, moved from port to port',
  each: 'a logger with a gauge and a thermometer on every section, and a barometer',
} as const

export type Instruments = keyof typeof instruments

/** The schema's file beside the system file: an editor that finds it completes and checks. */
export const schemaFile = 'system-file.schema.json'

/** Text of a first system file. Its volumes, pressures and allowances are to be replaced by the owner's own. */
export function firstSystemFile(layout: Layout, name: string, kit: Instruments): string {
  const ids = layout.sections.map(([id]) => id)
  const lines = (values: readonly WrittenValue[]) => values.map((value) => `  - ${written(value)}`)
  const byEye = kit === 'dial'
  return [
    `# yaml-language-server: $schema=./${schemaFile}`,
    `# ${layout.about}. Written by stillhold init: every figure here is a first guess, to be replaced by your own.`,
    '# The limits and allowances of the kit or airframe maker come first.',
    'stillhold: 1',
    `name: ${written(name)}`,
    '# aircraft: { registration: N0000, serial: "1" }',
    '',
    byEye
      ? '# The gauge: its span, and its smallest division as resolution. A mark says on which section it is.'
      : '# Where the numbers come from: measurement and field as the logger sends them. stillhold serve lists what it hears.',
    'channels:',
    ...lines(channelsFor(kit, ids)),
    '',
    '# Parts that can be shut off and put under pressure alone. Volume: measure it, or hose bore and length.',
    '# max-pressure: of the weakest part, from its maker. stretch is left out where it is not known.',
    'sections:',
    ...lines(
      layout.sections.map(([id, kind, volume]) => ({
        id,
        medium: 'air',
        volume,
        'max-pressure': kind === 'tank' ? '1.5 psi' : '15 psi',
        kind,
      })),
    ),
    '',
    '# Every joint that can leak. Add yours; size and torque are optional.',
    'fittings:',
    ...lines(
      layout.fittings.map(([section, kind, its, size], i) => ({
        id: `F${String(i + 1).padStart(2, '0')}`,
        section,
        kind,
        ...(size === undefined ? {} : { size }),
        name: its,
      })),
    ),
    '',
    '# What parts two sections, or closes one towards the outside.',
    'valves:',
    ...lines(
      layout.valves.map(([id, kind, its, ...sides]) => ({
        id,
        between: sides.filter((one) => one !== undefined),
        name: its,
        kind,
      })),
    ),
    '',
    '# One hold for each section: a tank at low pressure for long, a line higher. The allowance is a placeholder.',
    'holds:',
    ...lines(
      layout.sections.map(([id, kind]) => ({
        id: `${id}-hold`,
        sections: [id],
        shut: layout.valves.filter(([, , , ...between]) => between.includes(id)).map(([valve]) => valve),
        pressure: kind === 'tank' ? '1 psi' : '10 psi',
        settle: kind === 'tank' ? '15 min' : byEye ? '3 min' : '2 min',
        hold: kind === 'tank' || byEye ? '30 min' : '10 min',
        allow: { drop: kind === 'tank' ? '0.1 psi' : byEye ? '0.5 psi' : '0.1 psi' },
        source: 'placeholder of stillhold init, not a limit of any maker',
      })),
    ),
    '',
  ].join('\n')
}

function channelsFor(kit: Instruments, ids: readonly string[]): WrittenValue[] {
  const gauge = (id: string, field: string, at: { section: string } | { places: readonly string[] }) => ({
    id,
    measures: 'gauge-pressure',
    ...at,
    from: { measurement: kit === 'dial' ? 'typed' : 'logger', field },
    unit: 'psi',
    range: '0 psi to 15 psi',
    ...(kit === 'dial' ? { resolution: '0.1 psi' } : {}),
  })
  const thermometer = (
    id: string,
    field: string,
    at: { section: string } | { places: readonly string[] },
  ) => ({
    id,
    measures: 'temperature',
    ...at,
    from: { measurement: kit === 'dial' ? 'typed' : 'logger', field },
    unit: 'degC',
    ...(kit === 'dial' ? { resolution: '0.5 degC' } : {}),
  })
  if (kit === 'dial')
    return [
      gauge('gauge', 'gauge', { places: ids }),
      thermometer('thermometer', 'thermometer', { places: ids }),
    ]
  const baro = {
    id: 'baro',
    measures: 'barometric-pressure',
    from: { measurement: 'logger', field: 'baro' },
    unit: 'hPa',
  }
  if (kit === 'moved')
    return [gauge('gauge', 'p1', { places: ids }), thermometer('thermometer', 't1', { places: ids }), baro]
  return [
    ...ids.map((section, i) => gauge(`p-${section}`, `p${i + 1}`, { section })),
    ...ids.map((section, i) => thermometer(`t-${section}`, `t${i + 1}`, { section })),
    baro,
  ]
}
