import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import type { HoldResult } from '#analysis/model/hold-result.ts'
import type { Mark } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { planHold } from '#analysis/plan/plan-hold.ts'
import { figuresIn, unitsOfSystem } from '#analysis/reasons/figures.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { SessionCore } from '#dashboard/server/session/session-core.ts'
import type { SessionRecording } from '#dashboard/server/session/session-recording.ts'
import { startChecks } from '#dashboard/server/session/start-checks.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { readSystemFile, systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { root } from '#tests/house/source-files.ts'

const demo = readFileSync(join(root, 'recordings/floatplane.yaml'), 'utf8')
/** The demo's aircraft with one gauge for the left tank (1.5 psi at most), the feed lines (20 psi) and forward of the firewall. */
const text = demo
  .replace(/ {2}- id: p-left\n(?: {4}.*\n)+/, '')
  .replace(/ {2}- id: p-forward\n(?: {4}.*\n)+/, '')
  .replace(
    /(id: p-lines\n.*\n) {4}section: feed-lines/,
    '$1    places: [left-tank, feed-lines, firewall-forward]',
  )
const system = systemFromFile(text, 'moved.yaml')
const hold = system.holds.find(({ id }) => id === 'feed-lines-10psi')!

function analyzed(...marks: readonly string[]): {
  result: HoldResult
  problems: readonly { code: string }[]
} {
  const [header, ...lines] = readFileSync(join(root, 'recordings/lines-leak.lp'), 'utf8').split('\n')
  const recording = readRecording([header, ...marks, ...lines].join('\n'), system, 'moved.lp')
  return { result: analyzeRecording(recording, system)[0].result, problems: recording.problems }
}
const startS = 1_775_892_600
const place = (section: string, atS: number) =>
  `mark,kind=place,id=p-lines,from=operator section="${section}" ${startS + atS}000000000`

describe('a gauge that is moved (places): a recording', () => {
  it('marked on the section of the hold gives the verdict of a gauge that stays there', () => {
    const { result } = analyzed(place('left-tank', -3600), place('feed-lines', 0))
    expect(result.verdict).toBe('fail')
    const [staying] = analyzeRecording(
      readRecording(
        readFileSync(join(root, 'recordings/lines-leak.lp')),
        systemFromFile(demo, 'demo.yaml'),
        'x.lp',
      ),
      systemFromFile(demo, 'demo.yaml'),
    )
    const drop = ({ leak }: HoldResult) => (Array.isArray(leak) ? leak[0] : leak).drop_Pa.value
    expect(drop(result)).toBeCloseTo(drop(staying.result), 3)
  })

  it('marked on another section, on none, or moved during the hold proves nothing', () => {
    expect(analyzed(place('left-tank', 0)).result.verdict).toBe('void')
    const unplaced = analyzed()
    expect(unplaced.result.verdict).toBe('void')
    expect(unplaced.problems.map(({ code }) => code)).toContain('no-place')
    for (const away of [300, 600]) {
      const { verdict, reasons } = analyzed(place('feed-lines', 0), place('left-tank', away)).result
      expect([away, verdict]).toEqual([away, 'void'])
      expect(reasons.length).toBeGreaterThan(0)
    }
  })

  it('plan knows it at each of its places as they know a gauge that stays there', () => {
    const plan = (of: System) => planHold(of, 'feed-lines-10psi')
    expect(plan(system)?.smallest_scc_per_min).toBe(
      plan(systemFromFile(demo, 'demo.yaml'))?.smallest_scc_per_min,
    )
  })
})

describe('a gauge that is moved (places): a session', () => {
  function session() {
    const written: string[] = []
    let name = 'a.lp'
    const recording = {
      get name() {
        return name
      },
      line: (line: string) => written.push(line),
      mark: ({ kind, id, fields }: Mark) =>
        written.push(`${name} ${kind} ${id} ${fields.section ?? fields.source}`),
    } as unknown as SessionRecording
    const readings = new SessionCore({ systemFile: { system }, folder: '' } as never, recording)
    let seconds = 0
    return {
      readings,
      written,
      nextFile: () => {
        name = 'b.lp'
      },
      reads(psi: number, count = 5) {
        for (let i = 0; i < count; i++) {
          const timeNs = String((BigInt(startS) + BigInt(seconds++)) * 1_000_000_000n)
          const point = {
            measurement: 'logger',
            tags: {},
            fields: [{ key: 'p3', type: 'float', value: psi }],
            timeNs,
          } as const
          readings.point(
            point,
            'line',
            { wallNs: BigInt(timeNs), monotonicNs: BigInt(timeNs) },
            { kind: 'serial', name: 'x', sha256: null },
          )
        }
      },
      marks: (section: string) =>
        readings.mark(
          { kind: 'place', id: 'p-lines', from: 'operator', fields: { section } },
          (BigInt(startS) + BigInt(seconds)) * 1_000_000_000n,
        ),
      check: () =>
        startChecks(hold, system, {
          newest: readings.channels.newest(),
          unitOf: () => null,
          figures: figuresIn(unitsOfSystem(system)),
          isPlaced: (channel) => readings.isPlaced(channel),
        }).find(({ channel }) => channel === 'p-lines@feed-lines'),
    }
  }

  it('the start asks for it to be screwed on, and a place mark answers', () => {
    const { check, marks, reads } = session()
    reads(0)
    expect(check()).toMatchObject({ state: 'blocks', place: { gauge: 'p-lines', section: 'feed-lines' } })
    marks('feed-lines')
    reads(0)
    expect(check()).toMatchObject({ state: 'ready' })
    marks('left-tank')
    expect(check()).toMatchObject({ state: 'blocks' })
  })

  it('the limit that calls is that of the section it is on: 10 psi are well for a line and too much for a tank', () => {
    const { readings, marks, reads } = session()
    marks('feed-lines')
    reads(10)
    expect(readings.channels.alarms()).toEqual([])
    marks('left-tank')
    reads(10)
    expect(
      readings.channels
        .alarms()
        .map(({ message }) => message)
        .join(),
    ).toContain('left-tank')
  })

  it('each recording says where it is, and a mark taken back does not count', () => {
    const { readings, marks, reads, nextFile, written, check } = session()
    marks('feed-lines')
    reads(0)
    nextFile()
    reads(0)
    expect(written.filter((line) => line.startsWith('b.lp'))).toEqual([
      'b.lp origin p-lines serial',
      'b.lp place p-lines feed-lines',
    ])
    const { ns } = readings.marks.shown().find(({ kind }) => kind === 'place')!
    readings.mark(
      { kind: 'correction', id: 'p-lines', from: 'operator', fields: { of: ns } },
      BigInt(ns) + 1n,
    )
    expect(check()).toMatchObject({ state: 'blocks' })
  })
})

describe('a gauge that is moved (places): the system file', () => {
  const errors = (changed: string) => readSystemFile(changed, 'x.yaml').errors.map(({ message }) => message)

  it('one field on two sections without places is an error that says to use places', () => {
    expect(errors(demo.replace('field: p4', 'field: p3'))).toEqual([
      'channel p-forward: from: is that of channel p-lines on another section; for one gauge that is moved write one channel with places: [feed-lines, firewall-forward] instead of section',
    ])
  })

  it('refuses a place that is no section, one named twice, and section beside places', () => {
    expect(errors(text.replace('[left-tank, feed-lines,', '[left-tonk, feed-lines,'))[0]).toContain(
      'there is no section "left-tonk"; the nearest is "left-tank"',
    )
    expect(errors(text.replace('[left-tank, feed-lines,', '[left-tank, left-tank,'))[0]).toContain(
      'names a section twice',
    )
    expect(errors(text.replace('    places:', '    section: rig\n    places:'))[0]).toContain(
      'replaces "section"',
    )
  })
})
