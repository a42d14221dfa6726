import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { readRecording, readRecordingFile } from '#ingest/recording/read-recording.ts'
import { RecordingReader } from '#ingest/recording/recording-reader.ts'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { contractSystem } from './contract-system.ts'

const system = systemFromFile(contractSystem, 'plane.yaml')
const start = 1_767_225_600_000_000_000n

function line(seconds: number, fields: string, head = 'logger,port=a'): string {
  return `${head} ${fields} ${start + BigInt(Math.round(seconds * 1e9))}\n`
}

const header = '# stillhold recording 1\n'
const samples = [0, 1, 2, 3].map((s) => line(s, `p1=${10 - s / 100},t1=${20 + s}`)).join('')

function read(text: string, against = system) {
  return readRecording(Buffer.from(text), against, 'a.lp')
}

function codes(text: string, against = system): string[] {
  return read(text, against)
    .problems.map(({ code }) => code)
    .filter((code) => code !== 'no-samples')
}

describe('readRecording reads', () => {
  it('readRecording(…) turns psi and °C into Pa and K: 10 psi is 68947.57293 Pa (NIST SP 811)', () => {
    const { channels, startNs, name } = read(header + samples)
    expect({ startNs, name }).toEqual({ startNs: String(start), name: 'a.lp' })
    const [pressure, temperature, barometer] = channels
    expect(pressure.channel).toBe('p-left')
    expect(Array.from(pressure.timeS)).toEqual([0, 1, 2, 3])
    expect(pressure.reading[0]).toBeCloseTo(68947.57293, 4)
    expect(Array.from(temperature.reading)).toEqual([293.15, 294.15, 295.15, 296.15])
    expect(barometer.timeS).toHaveLength(0)
  })

  it('readRecording(marks) keeps kind, id, hold, fields and the exact nanoseconds', () => {
    const marks = [
      'mark,kind=stage,hold=left-feed-10psi name="hold" 1767225600000000001',
      'mark,kind=valve,id=V2 open=false 1767225590000000000',
      'mark,kind=work,id=F07,tool=T3 action="retighten",torque_Nm=14.1,turns=2i 1767225602000000000',
    ]
    const recording = read(`${header}${samples}${marks.join('\n')}\n`)
    // The valve was turned ten seconds before the first sample: the recording starts at that time.
    expect(recording.startNs).toBe('1767225590000000000')
    expect(recording.channels[0].timeS[0]).toBe(10)
    expect(recording.marks).toEqual([
      {
        timeNs: '1767225590000000000',
        timeS: 0,
        kind: 'valve',
        id: 'V2',
        hold: null,
        fields: { open: false },
      },
      {
        timeNs: '1767225600000000001',
        timeS: 10.000000001,
        kind: 'stage',
        id: null,
        hold: 'left-feed-10psi',
        fields: { name: 'hold' },
      },
      {
        timeNs: '1767225602000000000',
        timeS: 12,
        kind: 'work',
        id: 'F07',
        hold: null,
        fields: { tool: 'T3', action: 'retighten', torque_Nm: 14.1, turns: 2 },
      },
    ])
  })

  it('readRecording(only lines whose tags match the system file) leaves the other port out', () => {
    const { channels } = read(header + samples + line(4, 'p1=3,t1=4', 'logger,port=b'))
    expect(channels[0].timeS).toHaveLength(4)
    expect(channels[1].timeS).toHaveLength(5)
  })

  it('readRecording(CRLF, byte order mark, no header) is the same recording', () => {
    const plain = read(header + samples)
    const windows = read(`\ufeff${header}${samples}`.replaceAll('\n', '\r\n'))
    expect({ ...windows }).toEqual({ ...plain })
    const bare = read(samples)
    expect(bare.channels).toEqual(plain.channels)
    expect(codes(samples)).toEqual(['no-header'])
  })

  it.each([
    ['on a later line', `${header}# stillhold recording 2\n`],
    ['with more words', '# stillhold recording 2 of the evening\n'],
    ['after other words', '# a copy of # stillhold recording 2\n'],
  ])('readRecording(the header of another version %s) is a comment, not a refusal', (_, comment) => {
    expect(read(comment + samples).channels).toEqual(read(header + samples).channels)
  })

  it('readRecording(points out of order) sorts them by time and reports it', () => {
    const lines = samples.trimEnd().split('\n')
    const { channels, problems } = read(`${header}${[lines[2], lines[0], lines[3], lines[1]].join('\n')}\n`)
    expect(Array.from(channels[0].timeS)).toEqual([0, 1, 2, 3])
    expect(channels).toEqual(read(header + samples).channels)
    expect(problems.filter(({ code }) => code === 'out-of-order')).toHaveLength(2)
  })

  it('readRecording(in any pieces) gives the same as whole', () => {
    const text = `${header}#! cut line: 10\\n\n${samples}logger,port=a p1=x 5\nmark,kind=note text="two\nlines" ${start}\n${samples}`
    const bytes = Buffer.from(text)
    const whole = readRecording(bytes, system, 'a.lp')
    const inPieces = (sizes: readonly number[]) => {
      const reader = new RecordingReader(system, 'a.lp')
      let at = 0
      for (let k = 0; at < bytes.length; k++) {
        const size = sizes[k % sizes.length]
        reader.push(bytes.subarray(at, at + size))
        at += size
      }
      return reader.finish()
    }
    for (const size of [1, 2, 7, 64]) expect(inPieces([size])).toEqual(whole)
    const sizes = fc.array(fc.integer({ min: 1, max: 40 }), { minLength: 1, maxLength: 8 })
    fc.assert(
      fc.property(sizes, (drawn) => {
        expect(inPieces(drawn)).toEqual(whole)
      }),
      { numRuns: 100 },
    )
  })

  it('readRecordingFile(path) is readRecording of its bytes', () => {
    const folder = mkdtempSync(join(tmpdir(), 'stillhold-'))
    try {
      const path = join(folder, 'a.lp')
      writeFileSync(path, header + samples)
      expect(readRecordingFile(path, system)).toEqual(read(header + samples))
      const long =
        header + samples + '# a comment of 64 bytes, as a logger may send them in a row\n'.repeat(50_000)
      writeFileSync(path, long)
      const shares: number[] = []
      const { name, channels } = readRecordingFile(path, system, (share) => shares.push(share), 'b.lp')
      expect([name, channels]).toEqual(['b.lp', read(header + samples).channels])
      // After each mebibyte.
      const mebibytes = long.length / 2 ** 20
      expect(shares).toEqual([...[1, 2].map((n) => n / mebibytes), 1])
    } finally {
      rmSync(folder, { recursive: true })
    }
  })
})

describe('readRecording counts what is wrong', () => {
  it('readRecording(a sample without time) refuses it with its line number', () => {
    const { problems, rejectedLines, channels } = read(`${header}logger,port=a p1=9\n${samples}`)
    expect(problems[0]).toEqual({ code: 'refused-line', line: 2, message: 'column 20: the line has no time' })
    expect(rejectedLines).toBe(1)
    expect(channels[0].timeS).toHaveLength(4)
  })

  it('readRecording(#! lines) counts them', () => {
    expect(read(`${header}#! boot banner: v1.2\n${samples}#! half line: 10.\n`).rejectedLines).toBe(2)
  })

  it('readRecording(cut at every byte) never has a sample that the whole does not have', () => {
    const text = header + samples
    const whole = read(text).channels[0]
    for (let length = header.length; length < text.length; length++) {
      const { channels, rejectedLines } = read(text.slice(0, length))
      const [cut] = channels
      expect(Array.from(cut.reading)).toEqual(Array.from(whole.reading.subarray(0, cut.reading.length)))
      expect(Array.from(cut.timeS)).toEqual(Array.from(whole.timeS.subarray(0, cut.timeS.length)))
      const rest = text.slice(0, length).split('\n').at(-1)!
      const isWhole = rest === '' || / \d{19}$/.test(rest)
      expect(rejectedLines).toBe(isWhole ? 0 : 1)
    }
  })

  it('readRecording(numbered lines) counts the numbers that are missing', () => {
    const numbered = [1, 2, 5, 6].map((n) => line(n, `seq=${n}i,p1=10,t1=20`)).join('')
    expect(read(header + numbered).missingSequence).toBe(2)
    expect(codes(header + numbered)).toEqual(['missing-sequence'])
  })

  it('readRecording(text where a number belongs) reports the line', () => {
    const { problems } = read(`${header}${samples}${line(5, 'p1="open",t1=20')}`)
    expect(problems.find(({ code }) => code === 'not-a-number')).toMatchObject({ line: 6 })
  })

  it('readRecording(unknown mark) ignores the mark and reports it', () => {
    expect(codes(`${header}${samples}${line(5, 'x=1', 'mark,kind=party')}`)).toEqual(['unknown-mark'])
  })

  it('readRecording(calibration overdue at the date of the recording) warns', () => {
    const dated = (due: string) =>
      systemFromFile(
        contractSystem.replace('date: 2026-03-02,', `date: 2025-03-02, due: ${due},`),
        'plane.yaml',
      )
    expect(codes(header + samples, dated('2025-12-31'))).toEqual(['calibration-overdue'])
    expect(codes(header + samples, dated('2026-01-01'))).toEqual([])
  })

  it.each([
    ['', /^a\.lp: is empty$/],
    ['time,p1,t1\n0,10,20\n', /^a\.lp, line 1: no line is line protocol/],
    ['# stillhold recording 2\n', /reads version 1/],
    ['%PDF-1.7\n%\xe2\xe3\n', /no line is line protocol/],
  ])('readRecording(%j) throws one line that names file, line and cause', (text, message) => {
    expect(() => read(text)).toThrow(UnreadableFile)
    expect(() => read(text)).toThrow(message)
  })

  it('readRecording(any bytes) gives a recording or an UnreadableFile', () => {
    const pieces = fc.oneof(
      fc.uint8Array({ maxLength: 40 }).map((bytes) => Buffer.from(bytes)),
      fc
        .constantFrom(header, samples, 'logger p1=1', '"', '\\', ' 1767225600000000000\n')
        .map((text) => Buffer.from(text)),
    )
    fc.assert(
      fc.property(fc.array(pieces, { maxLength: 12 }), (parts) => {
        try {
          const { channels } = readRecording(Buffer.concat(parts), system, 'a.lp')
          return channels.every(
            ({ timeS, reading }) => timeS.length === reading.length && reading.every(Number.isFinite),
          )
        } catch (error) {
          return error instanceof UnreadableFile
        }
      }),
      { numRuns: 1000 },
    )
  })
})

describe('readRecording scales', () => {
  const scaled = (channel: string) =>
    systemFromFile(
      `stillhold: 1\nname: scales\nsections:\n  - { id: s, medium: air, volume: 1 L }\nchannels:\n  - ${channel}\n`,
      'plane.yaml',
    )
  const first = (text: string, against: ReturnType<typeof scaled>) =>
    read(header + text, against).channels[0].reading[0]

  it('readRecording(4-20 mA) is linear: 12 mA of 0…30 psi is 15 psi', () => {
    const against = scaled(
      '{ id: p, measures: gauge-pressure, section: s, from: { measurement: logger, field: mA }, scale: { linear: [[4 mA, 0 psi], [20 mA, 30 psi]] } }',
    )
    expect(first(line(0, 'mA=12'), against)).toBeCloseTo(15 * 6894.757293, 3)
  })

  it('readRecording(ratiometric) divides by its own measured rail: 2.55 V of 5.1 V is half of 0…30 psi', () => {
    const against = scaled(
      '{ id: p, measures: gauge-pressure, section: s, from: { measurement: logger, field: v }, scale: { ratiometric: [[10 %, 0 psi], [90 %, 30 psi]], rail: { field: vcc } } }',
    )
    expect(first(line(0, 'v=2.55,vcc=5.1'), against)).toBeCloseTo(15 * 6894.757293, 3)
  })

  it('readRecording(ratiometric, rail on its own slower line) uses the newest rail and leaves out samples without one', () => {
    const against = scaled(
      '{ id: p, measures: gauge-pressure, section: s, from: { measurement: logger, field: v }, scale: { ratiometric: [[10 %, 0 psi], [90 %, 30 psi]], rail: { measurement: supply, field: vcc } } }',
    )
    const text = `${line(0, 'v=2.5')}${line(1, 'vcc=5', 'supply')}${line(2, 'v=2.5')}${line(9, 'v=2.5')}`
    const { channels, problems } = read(header + text, against)
    expect(Array.from(channels[0].timeS)).toEqual([2])
    expect(problems.find(({ code }) => code === 'no-reading')?.message).toMatch(/2 of 3 numbers/)
  })

  it('readRecording(pt, 1385.055 ohm) is 373.15 K (IEC 60751: W(100 °C) = 1.385055)', () => {
    const against = scaled(
      '{ id: t, measures: temperature, section: s, from: { measurement: logger, field: r }, scale: { pt: 1000 ohm } }',
    )
    expect(first(line(0, 'r=1385.055'), against)).toBeCloseTo(373.15, 3)
  })

  it('readRecording(ntc, 10 kohm at its 25 °C point) is 298.15 K (definition)', () => {
    const against = scaled(
      '{ id: t, measures: temperature, section: s, from: { measurement: logger, field: r }, scale: { ntc: { at-25C: 10 kohm, beta: 3950 K } } }',
    )
    expect(first(line(0, 'r=10000'), against)).toBeCloseTo(298.15, 9)
  })
})
