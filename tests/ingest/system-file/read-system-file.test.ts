import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'
import { readSystemFile, systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { contractSystem } from '#tests/ingest/recording/contract-system.ts'

/** The contract's example with one piece of text replaced. */
function changed(from: string, to: string): string {
  if (!contractSystem.includes(from)) throw new Error(`the example has no "${from}"`)
  return contractSystem.replace(from, to)
}

function only(text: string) {
  const { system, errors } = readSystemFile(text, 'plane.yaml')
  expect(system).toBeNull()
  expect(errors.map(({ line, message }) => `${line}: ${message}`)).toHaveLength(1)
  return errors[0]
}

describe('readSystemFile reads', () => {
  const { system, errors } = readSystemFile(contractSystem, 'plane.yaml')

  it('readSystemFile(the example of contract section 3) finds nothing wrong', () => {
    expect(errors).toEqual([])
    expect(system?.name).toBe('high-wing floatplane, both wings')
  })

  it('readSystemFile(…) gives SI: 10 psi is 68947.57293 Pa (NIST SP 811), 0.25 % of 30 psi is 517.1068 Pa', () => {
    expect(system?.holds[0].pressurePa).toBeCloseTo(68947.57293, 4)
    expect(system?.channels[0].accuracySi).toBeCloseTo(517.1068, 4)
    expect(system?.sections[0].volumeM3).toBeCloseTo(0.35e-3, 12)
    expect(system?.sections[0].volumeToleranceM3).toBeCloseTo(0.035e-3, 12)
  })

  it('readSystemFile(…) keeps a dash size and a date as written', () => {
    expect(system?.fittings[0].size).toBe('-6')
    expect(system?.channels[0].calibration?.date).toBe('2026-03-02')
  })

  it('readSystemFile(…) distinguishes an unknown stretch (null) from a stated zero', () => {
    expect(system?.sections[0].stretchPerPa).toBe(0)
    const without = readSystemFile(changed('    stretch: 0 % per bar', '    # stretch unknown'), 'plane.yaml')
    expect(without.system?.sections[0].stretchPerPa).toBeNull()
  })

  it('readSystemFile(scc/min) converts by its reference: 7.4358389e-7 mol/s at 0 °C, 6.9285328e-7 at 20 °C (method.md section 5)', () => {
    const leak = changed('{ drop: 0.1 psi }', '{ leak: 1 scc/min }')
    const cold = readSystemFile(leak, 'plane.yaml').system?.holds[0].allow
    const warm = readSystemFile(`${leak}\nscc-reference: 20 degC\n`, 'plane.yaml').system?.holds[0].allow
    expect(cold).toEqual({ kind: 'gas-leak', molPerS: expect.closeTo(7.4358389e-7, 14) })
    expect(warm).toEqual({ kind: 'gas-leak', molPerS: expect.closeTo(6.9285328e-7, 14) })
  })

  it('readSystemFile(JSON) accepts it: JSON is YAML', () => {
    const json = JSON.stringify({
      stillhold: 1,
      name: 'left wing',
      sections: [{ id: 'left', medium: 'jet-a', volume: '1 L' }],
      holds: [
        {
          id: 'h',
          sections: ['left'],
          pressure: '5 psi',
          settle: '1 min',
          hold: '5 min',
          allow: { leak: '0.5 mL/min' },
        },
      ],
    })
    expect(readSystemFile(json, 'plane.json').system?.holds[0].allow).toEqual({
      kind: 'liquid-leak',
      m3PerS: expect.closeTo(0.5e-6 / 60, 18),
    })
  })

  it('readSystemFile(all optional keys) reads each', () => {
    const text = `
stillhold: 1
name: optional things
priors: { source: club table of 2026, flare: 3 %, drain-valve: 14 % }
sections:
  - { id: rig, medium: nitrogen, volume: 0.1 L, kind: rig }
  - { id: tank, medium: nitrogen, volume: 40 L ± 2 L, max-pressure: 2 psi, max-vacuum: 1 inHg, kind: tank,
      capacity: 20 gal, unusable: 1 gal, stretch: 1.5 % per bar }
channels:
  - { id: p, measures: gauge-pressure, section: tank, from: { measurement: m, field: mA },
      scale: { linear: [[4 mA, 0 psi], [20 mA, 5 psi]] }, calibration: { date: 2026-03-02, due: 2027-03-02,
      points: [[0 psi, 0 psi]] } }
  - { id: q, measures: gauge-pressure, section: tank, from: { measurement: m, field: v }, unit: psi,
      scale: { ratiometric: [[10 %, 0 psi], [0.9, 30 psi]], rail: { field: vcc } } }
  - { id: t, measures: temperature, section: tank, from: { measurement: m, field: r1 }, accuracy: 0.5 degC,
      scale: { ntc: { at-25C: 10 kohm, beta: 3950 K } } }
  - { id: u, measures: temperature, section: tank, from: { measurement: m, field: r2 }, resolution: 0.1 degF,
      scale: { pt: 1000 ohm } }
  - { id: s, measures: level-sender, section: tank, from: { measurement: m, field: s }, unit: ohm }
fittings:
  - { id: F1, section: tank, kind: cap, material: steel, torque: 100 to 125 in·lb }
  - { id: F2, section: tank, behind: [F1] }
valves:
  - { id: V1, between: [tank], kind: cap }
holds:
  - { id: suck, sections: [tank], rig: rig, shut: [V1], pressure: -0.5 inHg, settle: 2 min, hold: 10 min,
      allow: { rise: 10 Pa }, source: kit manual, page 4 }
`.replace('kit manual, page 4', '"kit manual, page 4"')
    const { system, errors } = readSystemFile(text, 'plane.yaml')
    expect(errors).toEqual([])
    const [p, q, t, u, s] = system!.channels
    expect(p.scale).toEqual({
      kind: 'linear',
      slopeSi: expect.closeTo(34473.786466 / 16, 4),
      offsetSi: expect.closeTo((-34473.786466 * 4) / 16, 4),
    })
    expect(p.unit).toBe('mA')
    expect(p.calibration?.due).toBe('2027-03-02')
    expect(q.scale).toMatchObject({
      kind: 'ratiometric',
      rail: { measurement: 'm', field: 'vcc', tags: {} },
      lowRatio: 0.1,
      highRatio: 0.9,
      lowSi: 0,
    })
    expect(t.scale).toEqual({ kind: 'ntc', ohmsAt25C: 10_000, betaK: 3950 })
    expect(t.accuracySi).toBe(0.5)
    expect(u.scale).toEqual({ kind: 'pt', ohmsAt0C: 1000 })
    expect(u.resolutionSi).toBeCloseTo(0.1 / 1.8, 12)
    expect(s.unit).toBe('ohm')
    expect(system!.sections[1]).toMatchObject({ kind: 'tank', stretchPerPa: expect.closeTo(1.5e-7, 15) })
    expect(system!.fittings.map(({ behind, material }) => [behind, material])).toEqual([
      [[], 'steel'],
      [['F1'], null],
    ])
    expect(system!.priors).toEqual({
      source: 'club table of 2026',
      leaking: { flare: 0.03, 'drain-valve': 0.14 },
    })
    expect(system!.holds[0]).toMatchObject({ rig: 'rig', allowSource: 'kit manual, page 4' })
    expect(system!.holds[0].pressurePa).toBeLessThan(0)
    expect(system!.holds[0].allow).toEqual({ kind: 'rise', dropPa: 10 })
  })
})

describe('readSystemFile refuses', () => {
  it('readSystemFile(presure) names the key, its line and the nearest known key', () => {
    const error = only(changed('    pressure: 10 psi\n', '    pressure: 10 psi\n    presure: 10 psi\n'))
    expect(error).toEqual({
      line: 37,
      column: 5,
      message: 'hold left-feed-10psi: unknown key "presure"; the nearest known key is "pressure"',
    })
  })

  it.each([
    ['stillhold: 1', 'stillhold: 2', /version "2"/],
    ['stillhold: 1\n', 'stillhold: 1\npriors: { flare: 3 % }\n', /priors: "source" is missing/],
    [
      'stillhold: 1\n',
      'stillhold: 1\npriors: { source: us, flare: 80 % }\n',
      /flare: must be more than 0 % and at most 50 %/,
    ],
    [
      'stillhold: 1\n',
      'stillhold: 1\npriors: { source: us, flair: 3 % }\n',
      /the nearest known key is "flare"/,
    ],
    ['10 psi\n', '20 psi\n', /pressure: is above the max-pressure of section "left-feed"/],
    ['0.35 L ± 10 %', '0 L', /volume: must be more than zero/],
    ['0.35 L ± 10 %', '0.35 L ± 100 %', /tolerance reaches down to zero/],
    ['0.35 L ± 10 %', '0.35', /volume: "0.35" has no unit/],
    ['0.35 L ± 10 %', '0.35 psi', /volume: .*unit of pressure/],
    ['unit: degC', 'unit: degQ', /unit: unknown unit "degQ"/],
    ['unit: hPa', 'unit: degC', /unit: "degC" is a unit of temperature/],
    ['unit: psi', 'unit: psia', /unit: "psia" is absolute, but the channel measures gauge pressure/],
    ['[left-feed]\n', '[left-fed]\n', /there is no section "left-fed"; the nearest is "left-feed"/],
    ['[V2]', '[V3]', /shut: there is no valve "V3"; the nearest is "V2"/],
    ['[left-feed, firewall-forward]', '[left-fede, firewall-forward]', /there is no section "left-fede"/],
    ['measures: temperature', 'measures: temprature', /the nearest is "temperature"/],
    ['0 psi to 30 psi', '30 psi to 0 psi', /range: .*high to low/],
    ['{ date: 2026-03-02', '{ date: 2026-02-30', /date: "2026-02-30" is not a date/],
    ['[30 psi, 29.95 psi]', '[0.01 psi, 29.95 psi, 1 psi]', /pair \[true, read\]/],
    ['[30 psi, 29.95 psi]', '[30 psi, 0.02 psi]', /two points have the same reading/],
    ['[30 psi, 29.95 psi]', '[-1 psi, 29.95 psi]', /does not rise with the reading/],
    ['{ drop: 0.1 psi }', '{ drop: 0.1 psi, leak: 1 scc/min }', /exactly one of drop, rise, leak/],
    ['{ drop: 0.1 psi }', '{ leak: 0.5 mL/min }', /holds a gas \(air\): state the leak in scc\/min/],
    ['{ drop: 0.1 psi }', '{ rise: 0.1 psi }', /write drop/],
    ['{ drop: 0.1 psi }', '{ drop: 0 psi }', /more than zero/],
    ['medium: air', 'medium: avgs', /the nearest is "avgas"/],
    ['hold: 10 min', 'hold: 0 min', /hold: must be more than zero/],
    ['id: t-left', 'id: p-left', /already taken/],
    [
      'id: t-left',
      'id: __proto__',
      /channel __proto__: id: "__proto__" is a reserved word; choose another id/,
    ],
    ['id: t-left', 'id: constructor', /"constructor" is a reserved word/],
    ['id: t-left', 'id: prototype', /"prototype" is a reserved word/],
    ['id: t-left', 'id: toString', /"toString" is a reserved word/],
    ['- id: baro\n', '- id: baro\n    section: left-feed\n', /belongs to no section/],
    ['  - id: left-feed-10psi\n', '  - ids: left-feed-10psi\n    id: x\n', /unknown key "ids".*"id"/],
  ])('readSystemFile(%j → %j) says what is wrong', (from, to, message) => {
    expect(only(changed(from, to)).message).toMatch(message)
  })

  it('readSystemFile(wrong section) does not also complain about what refers to it', () => {
    expect(only(changed('medium: air ', 'medium: water ')).message).toMatch(/section left-feed: medium/)
  })

  it.each([
    ['', /empty/],
    ['stillhold: 1', /missing/],
    ['- 1\n- 2', /expected a mapping/],
    ['stillhold: 1\n  bad: [', /not valid YAML/],
    [`${contractSystem}\n---\na: 1\n`, /second document/],
    ['a: &x [*x]', /./],
    [`a: ${'['.repeat(50_000)}`, /./],
    ['\u0000\uffff', /./],
    ['x'.repeat(131_073), /at most 65536/],
    [`${contractSystem}name: again\n`, /unique/],
  ])('readSystemFile(%#) gives an error, never an exception', (text, message) => {
    const { system, errors } = readSystemFile(text, 'plane.yaml')
    expect(system).toBeNull()
    expect(errors.map((error) => error.message).join('\n')).toMatch(message)
  })

  it('readSystemFile(any text, any mutation of the example) returns', () => {
    fc.assert(
      fc.property(fc.string({ unit: 'binary', maxLength: 200 }), (text) => {
        const read = readSystemFile(text, 'plane.yaml')
        return read.system === null && read.errors.length > 0
      }),
      { numRuns: 500 },
    )
    const position = fc.nat(contractSystem.length)
    fc.assert(
      fc.property(position, position, fc.string({ maxLength: 6 }), (from, length, insert) => {
        const text = contractSystem.slice(0, from) + insert + contractSystem.slice(from + (length % 30))
        const read = readSystemFile(text, 'plane.yaml')
        return (read.system === null) === read.errors.length > 0
      }),
      { numRuns: 400 },
    )
  })

  it('readSystemFile(any value at any place of the example) returns', () => {
    const values = fc.jsonValue({ maxDepth: 2 })
    const lines = contractSystem.split('\n')
    fc.assert(
      fc.property(fc.nat(lines.length - 1), values, (index, value) => {
        const text = lines.map((line, i) =>
          i === index ? line.replace(/:.*/, `: ${JSON.stringify(value)}`) : line,
        )
        const read = readSystemFile(text.join('\n'), 'plane.yaml')
        return (read.system === null) === read.errors.length > 0
      }),
      { numRuns: 400 },
    )
  })
})

describe('systemFromFile', () => {
  it('readSystemFile({ drop: 0,1 psi }) reports that the comma ended the value; quoted or in block style it is read', () => {
    const flow = contractSystem.replace('drop: 0.1 psi', 'drop: 0,1 psi')
    expect(flow).not.toBe(contractSystem)
    expect(() => systemFromFile(flow, 'aircraft.yaml')).toThrow(
      /drop: inside { } a comma ends the value; write 0\.1 psi or quote it: "0,1 psi"$/,
    )
    const quoted = contractSystem
      .replace('drop: 0.1 psi', 'drop: "0,1 psi"')
      .replace('volume: 0.35 L', 'volume: 0,35 L')
    expect(systemFromFile(quoted, 'aircraft.yaml')).toEqual(systemFromFile(contractSystem, 'aircraft.yaml'))
  })
  it('systemFromFile(bad) throws one line that names file, line and cause', () => {
    const text = changed('unit: hPa', 'unit: hPq')
    expect(() => systemFromFile(text, 'plane.yaml')).toThrow(UnreadableFile)
    expect(() => systemFromFile(text, 'plane.yaml')).toThrow(
      /^plane\.yaml, line 21: channel baro: unit: unknown unit "hPq"; the nearest known unit is "hPa"$/,
    )
  })
})
