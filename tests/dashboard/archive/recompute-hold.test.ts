import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { nearestInTime, recomputeHold, takenBackAfter } from '#dashboard/archive/recompute-hold.ts'
import type { SealedRecord } from '#dashboard/archive/record.ts'
import { recordedHolds } from '#dashboard/archive/recorded-holds.ts'
import { sha256Hex } from '#dashboard/archive/write-durably.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { archiveIn, emptyFolder, tinyRecording, writeRecording } from './bench-archive.ts'
import { demoRecordingPath, floatplaneText, sealDemoHold } from './sealed-hold.ts'

const path = demoRecordingPath('lines-retest')
const bytes = readFileSync(path)
const holdNs = '1775896444000000000'
const onlyMarked = tinyRecording.replaceAll('left-feed-10psi', 'feed-lines-10psi').replaceAll('p1=', 'p3=')
const began = (hold_ns: string | null) => ({ result: { stages: { hold_ns } } }) as never

describe('nearestInTime()', () => {
  it.each<[(string | null)[], string | null, number]>([
    [['100', '200', '300'], '240', 1],
    [['100', '200', '300'], '260', 2],
    [['100', '200'], '150', 0],
    [['100', '200', '300'], null, 2],
    [[null, '100'], '9000000000000000000', 1],
    [['100', null], '100', 0],
    [[null], '100', 0],
  ])('of holds that began at %j, sealed as of %s: the one at %i', (all, sealed, at) => {
    const found = all.map(began)
    expect(nearestInTime(found, sealed)).toBe(found[at])
  })
})

describe('recomputeHold()', () => {
  const record = sealDemoHold(archiveIn(emptyFolder()), 'lines-retest')
  const why = (changes: Partial<SealedRecord>, recording: Uint8Array | null = bytes) => {
    const { analysis, why, marks } = recomputeHold({ ...record, ...changes }, recording)
    expect([analysis, marks]).toEqual([null, expect.any(Array)])
    return why
  }
  it('gives the sealed verdict from bytes and from a file, and where on the curves the hold began', () => {
    for (const from of [bytes, path]) {
      const { analysis, marks, why, corrected, system } = recomputeHold(record, from)
      expect([analysis?.result.verdict, why, corrected, system?.name]).toEqual([
        'pass',
        null,
        undefined,
        record.system.name,
      ])
      expect(marks.filter(({ kind }) => kind === 'stage').length).toBeGreaterThan(3)
      // The recording starts at 1775896200 s.
      expect(analysis?.curves.map(({ holdStartS }) => holdStartS)).toEqual([244])
    }
  })
  it('says why it cannot', () => {
    expect(why({ system: { ...record.system, text: 'stillhold: 2' } })).toMatch(
      /^this program cannot read its system file: .+/,
    )
    expect(why({ kind: 'work' })).toBe('it is not a pressure hold')
    expect(why({}, null)).toBe('its recording is not available')
    expect(why({}, Buffer.from('no recording'))).toMatch(/lines-retest\.lp/)
    expect(why({ recording: null }, Buffer.from('no recording'))).toMatch(/^recording, line 1: /)
    expect(why({}, Buffer.from(tinyRecording))).toBe('its recording has no such hold')
    expect(why({ result: { ...record.result, hold: 'rig-10psi' } })).toBe('its recording has no such hold')
  })
  it('names each record that withdraws a mark once, and what is left of the hold', () => {
    const takenBack = new Map([
      ['1775898000000000000', '0002-a'],
      ['1', '0003-b'],
    ])
    // The pressure alone shows no hold.
    expect(recomputeHold(record, Buffer.from(onlyMarked), takenBack).corrected).toEqual({
      by: ['0002-a'],
      result: null,
      verdict: 'void',
    })
    expect(recomputeHold(record, bytes, new Map([['1', '0003-b']])).corrected).toBeUndefined()
  })
})

it('takenBackAfter() counts corrections by people, later in the same chain', () => {
  const hold = { sequence: 5, public_key: 'k' } as SealedRecord
  const correction = (changes: object, result: object = {}) =>
    ({
      id: 'c',
      kind: 'correction',
      sequence: 6,
      public_key: 'k',
      result: { of: 7, ...result },
      ...changes,
    }) as never
  const found = (...given: Parameters<typeof correction>) => [...takenBackAfter(hold, [correction(...given)])]
  expect(found({})).toEqual([['7', 'c']])
  expect(found({}, { from: 'operator' })).toEqual([['7', 'c']])
  expect(found({}, { from: 'logger' })).toEqual([])
  for (const changes of [{ sequence: 5 }, { sequence: 4 }, { public_key: 'other' }, { kind: 'work' }])
    expect(found(changes)).toEqual([])
})

describe('recordedHolds()', () => {
  const system = systemFromFile(floatplaneText, 'floatplane.yaml')
  const holds = (text: string, hold: string | null = null) =>
    recordedHolds(writeRecording(emptyFolder(), 'x.lp', text), 'mine/hold.lp', floatplaneText, system, {
      hold,
      operator: 'A. B.',
    })
  it('gives drafts of imported holds, with the channels that were read and the hash of the file', () => {
    const [draft, ...others] = holds(bytes.toString())
    expect(others).toEqual([])
    expect(draft).toMatchObject({
      ...{ kind: 'hold', systemText: floatplaneText, systemName: system.name },
      ...{
        operator: 'A. B.',
        witness: null,
        note: null,
        result: { verdict: 'pass', stages: { hold_ns: holdNs } },
      },
    })
    const origin = { kind: 'import', name: 'hold.lp', sha256: sha256Hex(bytes) }
    expect(draft.origins).toEqual(
      ['p-lines', 't-lines', 'baro']
        .map((channel) => ({ channel, ...origin }))
        .sort((a, b) => {
          const place = (id: string) => system.channels.findIndex((one) => one.id === id)
          return place(a.channel) - place(b.channel)
        }),
    )
  })
  it('keeps what the recording says of its sources; typed readings stay typed', () => {
    const said = (mark: string) =>
      holds(`${bytes}mark,kind=origin,id=p-lines ${mark} 1775896200000000000\n`)[0].origins
    const nameOf = (mark: string) => said(mark).find(({ channel }) => channel === 'p-lines')
    expect(nameOf('source="typed"')).toMatchObject({ kind: 'typed', name: 'hold.lp, which says typed' })
    expect(nameOf('source="serial",name="/dev/ttyUSB0"')).toMatchObject({
      ...{ kind: 'import', name: 'hold.lp, which says serial /dev/ttyUSB0' },
    })
    expect(said('source="typed"').find(({ channel }) => channel === 't-lines')).toMatchObject({
      name: 'hold.lp',
    })
  })
  it('seals nothing where there is no hold, or not the named one, or no recording', () => {
    expect(() => holds(tinyRecording.replace(/^mark.*\n/m, ''))).toThrow(
      'mine/hold.lp: no hold found in it; nothing is sealed',
    )
    expect(() => holds(bytes.toString(), 'rig-10psi')).toThrow('mine/hold.lp: no hold rig-10psi found in it')
    expect(holds(bytes.toString(), 'feed-lines-10psi')).toHaveLength(1)
    try {
      holds('no recording')
      expect.unreachable()
    } catch (error) {
      expect(error).toMatchObject({ name: 'ArchiveError', code: 'bad-record', path: 'mine/hold.lp' })
    }
  })
})
