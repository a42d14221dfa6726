import { describe, expect, it } from 'vitest'
import type { Channel } from '#analysis/model/system.ts'
import { figuresIn, unitsOfSystem } from '#analysis/reasons/figures.ts'
import type { NewestReading } from '#dashboard/api.ts'
import { startChecks } from '#dashboard/server/session/start-checks.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'

const file = (unit: string, measures = 'gauge-pressure'): string => `stillhold: 1
name: one line
channels:
  - { id: p, measures: ${measures}, section: line, from: { measurement: logger, field: p }, unit: ${unit}, range: 0 psi to 30 psi }
  - { id: t, measures: temperature, section: line, from: { measurement: logger, field: t }, unit: degC }
  - { id: baro, measures: barometric-pressure, from: { measurement: logger, field: b }, unit: hPa }
sections:
  - { id: line, medium: air, volume: 0.5 L }
fittings:
  - { id: F1, section: line, kind: flare }
holds:
  - { id: h, sections: [line], pressure: 10 psi, settle: 2 min, hold: 5 min, allow: { drop: 0.1 psi } }
`
const at = (reading: number): NewestReading => ({ timeS: 1, reading, quietS: null })
const rest = { p: at(20), t: at(291), baro: at(101_200) }

it('startChecks() of each channel that the hold needs, in the order of the file, and of no other', () => {
  const logger = (field: string) => `from: { measurement: logger, field: ${field} }`
  const system = systemFromFile(
    `stillhold: 1
name: two lines
channels:
  - { id: p, measures: gauge-pressure, section: line, ${logger('p')}, unit: psi }
  - { id: second, measures: gauge-pressure, section: line, ${logger('q')}, unit: psi }
  - { id: far, measures: gauge-pressure, section: far, ${logger('f')}, unit: psi }
  - { id: t-far, measures: temperature, section: far, ${logger('u')}, unit: degC }
  - { id: moved, measures: gauge-pressure, places: [near, far], ${logger('m')}, unit: psi }
  - { id: wired, measures: gauge-pressure, section: wired, ${logger('i')}, unit: psi, scale: { linear: [[4 mA, 0 psi], [20 mA, 10 psi]] } }
  - { id: t, measures: temperature, section: line, ${logger('t')}, unit: degC }
  - { id: baro, measures: barometric-pressure, ${logger('b')}, unit: hPa }
sections:
${['line', 'far', 'near', 'wired'].map((id) => `  - { id: ${id}, medium: air, volume: 0.5 L }`).join('\n')}
holds:
  - { id: h, sections: [line, near, wired], pressure: 10 psi, settle: 2 min, hold: 5 min, allow: { drop: 0.1 psi } }
`,
    'aircraft.yaml',
  )
  const found = startChecks(system.holds[0], system, {
    newest: { p: at(20), wired: at(0), t: at(291), baro: at(101_200), 't-far': at(100) },
    // A sensor of 4 to 20 mA has no unit of pressure.
    unitOf: ({ id }) => (id === 'wired' ? 'kPa' : null),
    isPlaced: () => false,
    figures: figuresIn(unitsOfSystem(system)),
  })
  expect(found.map((check) => ({ ...check, message: check.message.slice(0, 22) }))).toEqual([
    { channel: 'p', state: 'ready', message: '' },
    // One of two gauges may be missing.
    { channel: 'second', state: 'notice', message: 'second: no data yet. C' },
    {
      ...{ channel: 'moved@near', state: 'blocks', message: 'Screw moved on at near' },
      place: { gauge: 'moved', section: 'near' },
    },
    { channel: 'wired', state: 'ready', message: '' },
    { channel: 't', state: 'ready', message: '' },
    { channel: 'baro', state: 'ready', message: '' },
  ])
})

/** What is said of one channel, and whether it blocks. */
function said(
  channel: string,
  newest: Readonly<Record<string, NewestReading>>,
  options: { unit?: string; measures?: string; sends?: string } = {},
): string {
  const system = systemFromFile(file(options.unit ?? 'psi', options.measures), 'aircraft.yaml')
  const unitOf = ({ id }: Channel) => (id === 'p' ? (options.sends ?? null) : null)
  const found = startChecks(system.holds[0], system, {
    newest,
    unitOf,
    isPlaced: () => true,
    figures: figuresIn(unitsOfSystem(system)),
  })
  const one = found.find((check) => check.channel === channel)!
  return `${one.state}: ${one.message}`
}

describe('startChecks', () => {
  it('says nothing of a vented gauge, a thermometer and a barometer as they should be', () => {
    expect(['p', 't', 'baro'].map((id) => said(id, rest))).toEqual(['ready: ', 'ready: ', 'ready: '])
  })

  it('blocks where the logger writes another unit than the file, and takes other spellings of the same', () => {
    expect(said('p', rest, { sends: 'psi', unit: 'kPa' })).toBe(
      'blocks: p: the logger sends psi, the system file says kPa. Write unit: psi.',
    )
    expect(said('p', rest, { sends: 'mbar', unit: 'hPa' })).toBe('ready: ')
    // They differ by 1.4e-7 (NIST SP 811).
    expect(said('p', rest, { sends: 'Torr', unit: 'mmHg' })).toBe('ready: ')
    expect(said('p', rest, { sends: 'PSIG' })).toBe('ready: ')
    expect(said('p', rest, { sends: 'psia' })).toContain('Write measures: absolute-pressure.')
    expect(said('p', rest, { sends: '°C' })).toBe('ready: ')
  })

  it('blocks a resting gauge far from zero and warns of one that is a little off: 3.1 psi and 0.7 psi before 10 psi', () => {
    expect(said('p', { ...rest, p: at(21_400) })).toMatch(/^blocks: p reads 3.1 psi before the pump-up/)
    expect(said('p', { ...rest, p: at(4826) })).toMatch(/^notice: p reads 0.7 psi, too far from zero/)
    expect(said('p', { ...rest, p: at(101_000) })).toContain('as an absolute gauge does')
    expect(said('p', { ...rest, p: at(400_000) })).toContain('outside its span')
  })

  it('blocks an absolute gauge more than 5 kPa from the barometer, and a barometer that no atmosphere has', () => {
    const absolute = { measures: 'absolute-pressure' }
    expect(said('p', { ...rest, p: at(101_500) }, absolute)).toBe('ready: ')
    expect(said('p', { ...rest, p: at(14_600) }, absolute)).toMatch(/^blocks: .*the atmosphere is 14.7 psi/)
    expect(said('baro', { ...rest, baro: at(1012) })).toMatch(/^blocks: .*outside any real atmosphere/)
    expect(said('t', { ...rest, t: at(18) })).toMatch(/^blocks: /)
  })

  it('names each sensor that is missing: the gauge blocks, the others are told with what their absence means', () => {
    expect(said('p', { t: rest.t, baro: rest.baro })).toMatch(/^blocks: p: no data yet/)
    expect(said('t', { ...rest, t: { ...rest.t, quietS: 12.3 } })).toBe(
      'notice: t: no reading for 12 s. Without it the temperature is unknown and the interval is wider.',
    )
    expect(said('baro', { p: rest.p, t: rest.t })).toMatch(/^notice: baro: no data yet/)
  })
})
