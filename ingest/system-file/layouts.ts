import { type WrittenEntry, type WrittenValue, written } from './edit-system-file.ts'

/** A generic fuel system as a template: invented, like all its figures. */
export type Layout = Readonly<ReturnType<typeof layout>>

/** Fittings of every tank with a filler, and those between firewall and engine. */
const onTank = ['cap filler cap', 'sender-gasket quantity sender', 'drain-valve drain', 'flare -6 outlet']
const forward = [
  'firewall-forward hose-end -6 hose at the firewall',
  'firewall-forward hose-end -6 hose at the pump',
  'firewall-forward flare -6 carburetor or injector inlet',
]
const outlets = (left: string, right: string) => [
  `shut-off left-tank>${left} left tank outlet, shut or plugged`,
  `shut-off right-tank>${right} right tank outlet, shut or plugged`,
]

/**
 * The entries of a layout from rows of words: `left-tank 60` is a section with its liters, `selector feed-lines>firewall-forward fuel selector` a
 * valve, `feed-lines flare -6 selector inlet` a fitting. Each tank has a vent, and each but a header tank a filler and an outlet.
 */
function layout(id: string, about: string, parts: string[], joins: string[], joints: string[]) {
  const sections = parts.map((row) => {
    const [section = '', liters] = row.split(' ')
    const isTank = section.endsWith('-tank')
    return {
      id: section,
      medium: 'air',
      volume: `${liters} L ± ${isTank ? 5 : 10} %`,
      'max-pressure': isTank ? '1.5 psi' : '15 psi',
      kind: isTank ? 'tank' : 'line',
    }
  })
  const tanks = sections.flatMap(({ id, kind }) =>
    kind === 'tank' ? [[id, id.replace('-tank', '')] as const] : [],
  )
  const filled = tanks.filter(([, name]) => name !== 'header')
  const vents = tanks.map(([tank, name]) => `cap ${tank} ${name} vent, plugged for the test`)
  const onTanks = filled.flatMap(([tank, name]) =>
    onTank.map((row) => `${tank} ${row.replace(/^(\S+(?: -\d+)?) /, `$1 ${name} `)}`),
  )
  return {
    ...{ id, about, sections },
    valves: [...joins, ...vents].map((row, i) => {
      const [kind = '', sides = '', ...name] = row.split(' ')
      return { id: `V${i + 1}`, between: sides.split('>'), name: name.join(' '), kind }
    }),
    fittings: [...onTanks, ...joints, ...forward].map((row, i): WrittenEntry => {
      const [section = '', kind = '', first = '', ...name] = row.split(' ')
      const id = `F${String(i + 1).padStart(2, '0')}`
      return first.startsWith('-')
        ? { id, section, kind, size: Number(first), name: name.join(' ') }
        : { id, section, kind, name: [first, ...name].join(' ') }
    }),
  }
}

export const layouts: readonly Layout[] = [
  layout(
    'high-wing',
    'gravity tanks in a high wing, one selector both, left, right, off',
    ['left-tank 60', 'right-tank 60', 'feed-lines 0.8', 'firewall-forward 0.4'],
    [...outlets('feed-lines', 'feed-lines'), 'selector feed-lines>firewall-forward fuel selector'],
    ['feed-lines flare -6 selector left inlet', 'feed-lines flare -6 selector right inlet'],
  ),
  layout(
    'low-wing',
    'two tanks in a low wing, selector, electric boost pump',
    ['left-tank 70', 'right-tank 70', 'left-feed 0.5', 'right-feed 0.5', 'firewall-forward 0.5'],
    [
      ...outlets('left-feed', 'right-feed'),
      'selector left-feed>firewall-forward fuel selector, left',
      'selector right-feed>firewall-forward fuel selector, right',
    ],
    [
      'left-feed flare -6 selector left inlet',
      'right-feed flare -6 selector right inlet',
      'firewall-forward flare -6 boost pump inlet',
      'firewall-forward flare -6 boost pump outlet',
    ],
  ),
  layout(
    'header-tank',
    'wing tanks that feed one header tank, shut-off at the header',
    ['left-tank 50', 'right-tank 50', 'header-tank 6', 'firewall-forward 0.4'],
    [
      'shut-off left-tank>header-tank left feed to the header, shut or plugged',
      'shut-off right-tank>header-tank right feed to the header, shut or plugged',
      'shut-off header-tank>firewall-forward fuel shut-off',
    ],
    [
      'header-tank flare -6 header left inlet',
      'header-tank flare -6 header right inlet',
      'header-tank drain-valve header drain',
    ],
  ),
  layout(
    'fuselage-tank',
    'one tank in the fuselage, one shut-off',
    ['main-tank 70', 'firewall-forward 0.5'],
    ['shut-off main-tank>firewall-forward fuel shut-off'],
    [],
  ),
  layout(
    'nose-tank',
    'one gravity tank ahead of the panel, shut-off and gascolator below it',
    ['nose-tank 45', 'firewall-forward 0.3'],
    ['shut-off nose-tank>firewall-forward fuel shut-off'],
    ['firewall-forward other gascolator bowl gasket'],
  ),
]

/** Instruments of a first file. */
export const instruments = {
  dial: 'a dial gauge and a thermometer, read by eye and moved from port to port',
  moved: 'a logger with one gauge and one thermometer, moved from port to port',
  each: 'a logger with a gauge and a thermometer on every section, and a barometer',
} as const

export type Instruments = keyof typeof instruments

/** Schema file next to the system file, for editors that complete and check. */
export const schemaFile = 'system-file.schema.json'

/** Text of a first system file. The owner replaces its volumes, pressures and allowances. */
export function firstSystemFile(layout: Layout, name: string, kit: Instruments): string {
  const ids = layout.sections.map(({ id }) => id)
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
      : '# Where the numbers come from: measurement and field as the logger sends them. stillhold serve lists what it receives.',
    'channels:',
    ...lines(channelsFor(kit, ids)),
    '',
    '# Parts that can be shut off and put under pressure alone. Volume: measure it, or hose bore and length.',
    '# max-pressure: of the weakest part, from its maker. stretch is left out where it is not known.',
    'sections:',
    ...lines(layout.sections),
    '',
    '# Every joint that can leak. Add yours; size and torque are optional.',
    'fittings:',
    ...lines(layout.fittings),
    '',
    '# Valves, caps and plugs: between two sections, or between one and the outside.',
    'valves:',
    ...lines(layout.valves),
    '',
    '# One hold for each section: a tank at low pressure for long, a line higher. The allowance is a placeholder.',
    'holds:',
    ...lines(
      layout.sections.map(({ id, kind }) => ({
        id: `${id}-hold`,
        sections: [id],
        shut: layout.valves.filter(({ between }) => between.includes(id)).map((valve) => valve.id),
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
  const instrument = (
    measures: 'gauge-pressure' | 'temperature',
    id: string,
    field: string,
    at: { section: string } | { places: readonly string[] },
  ) => ({
    ...{ id, measures, ...at, from: { measurement: kit === 'dial' ? 'typed' : 'logger', field } },
    ...(measures === 'temperature' ? { unit: 'degC' } : { unit: 'psi', range: '0 psi to 15 psi' }),
    ...(kit === 'dial' ? { resolution: measures === 'temperature' ? '0.5 degC' : '0.1 psi' } : {}),
  })
  const moved = (gauge: string, thermometer: string) => [
    instrument('gauge-pressure', 'gauge', gauge, { places: ids }),
    instrument('temperature', 'thermometer', thermometer, { places: ids }),
  ]
  if (kit === 'dial') return moved('gauge', 'thermometer')
  const baro = {
    id: 'baro',
    measures: 'barometric-pressure',
    from: { measurement: 'logger', field: 'baro' },
    unit: 'hPa',
  }
  if (kit === 'moved') return [...moved('p1', 't1'), baro]
  return [
    ...ids.map((section, i) => instrument('gauge-pressure', `p-${section}`, `p${i + 1}`, { section })),
    ...ids.map((section, i) => instrument('temperature', `t-${section}`, `t${i + 1}`, { section })),
    baro,
  ]
}
