import { copyFileSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { parse } from 'yaml'
import { openArchive } from '#dashboard/archive/archive.ts'
import { verify } from '#dashboard/archive/verify.ts'
import type { RunningBench } from '#dashboard/server/start-bench.ts'
import type { Port } from '#ingest/sources/port.ts'
import { ask, send } from './ask.ts'
import { benchFolder, openBench } from './open-bench.ts'
import { until } from './until.ts'

const wet = new URL('../../../recordings/wet/', import.meta.url)
const demo = (name: string) => readFileSync(new URL(name, wet), 'utf8')
const at = benchFolder()
let bench: RunningBench
beforeAll(async () => {
  copyFileSync(new URL('floatplane-wet.yaml', wet), at.systemPath)
  bench = await openBench(at)
})
afterAll(async () => {
  await bench.stop()
  at.remove()
})

interface Answer {
  readonly results: readonly {
    readonly verdict: string
    readonly reasons: readonly { code: string }[]
    readonly steps?: readonly { readonly done: boolean }[]
  }[]
  readonly records: readonly string[]
}
const judged = async (path: string, body: object) => {
  const answer = await send(bench.server.port, path, body)
  return { status: answer.status, said: answer.text, ...(answer.json() as unknown as Answer) }
}
const png = Buffer.from([0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a, 1, 2, 3]).toString('base64')
const soak = parse(demo('soak.yaml')) as Record<string, unknown>

describe('routes of the wet work, over HTTP against the real app', () => {
  it('GET /api/wet tells the stages, the seep classes and a range for each fitting', async () => {
    const told = (await ask(bench.server.port, { path: '/api/wet' })).json() as {
      stages: { name: string }[]
      ranges: { id: string }[]
    }
    expect(told.stages.map(({ name }) => name)).toEqual([
      'before-fuel',
      'first-fill-shut',
      'opened',
      'pump-on',
      'brim-full-soak',
      'engine-run',
      'first-flight',
      'defuel',
    ])
    expect(told.ranges.length).toBeGreaterThan(10)
  })

  it('POST judges without sealing, and seals only when asked (demo soak: one gasket wept)', async () => {
    const looked = await judged('/api/wet', { sheet: soak, seal: false })
    expect([looked.results[0].verdict, looked.records]).toEqual(['fail', []])
    const sealed = await judged('/api/wet', {
      sheet: soak,
      seal: true,
      operator: 'ab',
      photos: [{ name: '../gasket.png', base64: png }],
    })
    expect(sealed.records).toHaveLength(1)
    expect(sealed.results[0].steps?.every(({ done }) => done)).toBe(true)
    const record = (
      await ask(bench.server.port, { path: `/api/records/${sealed.records[0]}/record.json` })
    ).json() as { photos: { name: string; sha256: string }[]; result: { sheet: unknown } }
    expect(record.photos[0].name).toMatch(/^_[\w.]*gasket\.png$/)
    expect(record.result.sheet).toEqual(soak)
  })

  it('POST /api/wet keeps a later stage open after one that failed on the same tank', async () => {
    const first = {
      ...soak,
      stage: 'first-fill-shut',
      done: [1, 2, 3, 4, 5, 6],
      began: '2026-05-09T08:00:00Z',
      looks: [{ fitting: 'F02', after: '20 min', finding: 'drip' }],
    }
    expect((await judged('/api/wet', { sheet: first, seal: true })).results[0].verdict).toBe('fail')
    const looks = ['F02', 'F03', 'F04', 'F05'].map((fitting) => ({ fitting, after: '12 h', finding: 'dry' }))
    const later = await judged('/api/wet', { sheet: { ...soak, looks }, seal: false })
    expect(later.results[0].verdict).toBe('undecided')
    expect(later.results[0].reasons.map(({ code }) => code)).toContain('earlier-stage-open')
  })

  it('POST /api/wet refuses a night that has not happened, and a stamp that somebody typed', async () => {
    const began = new Date().toISOString()
    const looks = ['F02', 'F03', 'F04', 'F05'].map((fitting) => ({ fitting, after: '8 h', finding: 'dry' }))
    const night = await judged('/api/wet', { sheet: { ...soak, began, looks }, seal: true })
    expect([night.status, night.said]).toEqual([
      422,
      expect.stringContaining('look 1: after is later than now'),
    ])
    const stamped = { ...soak, looks: [{ ...looks[0], stamped: true }] }
    const claimed = await judged('/api/wet', { sheet: stamped, seal: false })
    expect([claimed.status, claimed.said]).toEqual([422, expect.stringContaining('stamped')])
  })

  it('a saved sheet goes from one person and device to the next, each look stamped by the server, and is sealed once', async () => {
    const { port } = bench.server
    const sheets = async () =>
      (await ask(port, { path: '/api/wet/sheets' })).json() as unknown as { id: string }[]
    const order = { stage: 'first-fill-shut', sections: ['right-tank'], by: 'ab' }
    const { id } = (await send(port, '/api/wet/sheets', order)).json() as unknown as { id: string }
    const again = (await send(port, '/api/wet/sheets', { ...order, by: 'cd' })).json() as unknown as {
      id: string
    }
    expect([again.id, (await sheets()).length]).toEqual([id, 1])
    const enter = (entry: object) => send(port, `/api/wet/sheets/${id}/entry`, entry)
    const soon = await enter({ by: 'ab', kind: 'look', fitting: 'F08', finding: 'dry', how: ['paper'] })
    expect([soon.status, soon.text]).toEqual([422, expect.stringContaining('after begin')])
    await enter({ by: 'ab', kind: 'set', fuel: 'avgas', temperature: '12 degC' })
    for (let step = 1; step <= 5; step++) await enter({ by: 'ab', kind: 'step', step })
    const bond = await enter({ by: 'ab', kind: 'omit', step: 3, why: 'in a hurry' })
    expect([bond.status, bond.text]).toEqual([422, expect.stringContaining('safety step')])
    await enter({ by: 'ab', kind: 'omit', fitting: 'F06', why: 'above the fuel' })
    await enter({ by: 'ab', kind: 'begin' })
    await enter({ by: 'cd', kind: 'take-over' })
    const before = Date.now()
    const looked = await enter({
      by: 'cd',
      kind: 'look',
      fitting: 'F08',
      finding: 'dry',
      how: ['paper', 'talc'],
    })
    const { looks } = (looked.json() as unknown as { sheet: { looks: { at: string; by: string }[] } }).sheet
    expect(looks[0].by).toBe('cd')
    expect(Date.parse(looks[0].at)).toBeGreaterThanOrEqual(before)
    const odd = await enter({ by: 'cd', kind: 'look', fitting: 'F99', finding: 'dry', how: ['paper'] })
    expect([odd.status, odd.text]).toEqual([422, expect.stringContaining('F99')])
    const done = await judged(`/api/wet/sheets/${id}/judge`, { seal: true, operator: 'cd' })
    expect([done.status, done.results[0].verdict]).toEqual([200, 'undecided'])
    const codes = done.results[0].reasons.map(({ code }) => code)
    expect(codes).toEqual(expect.arrayContaining(['not-looked-at', 'stage-skipped', 'steps-not-ticked']))
    expect(await sheets()).toEqual([])
    const late = await enter({ by: 'ab', kind: 'take-over' })
    expect([late.status, late.text]).toEqual([422, expect.stringContaining('closed')])
  })

  it('POST /api/flow and /api/torque judge the demo sheets as the commands do', async () => {
    const flow = await judged('/api/flow', { sheet: parse(demo('flow.yaml')), seal: true })
    const torque = await judged('/api/torque', { sheet: parse(demo('work.yaml')), seal: true })
    expect([flow.results[0].verdict, flow.records.length, torque.records.length]).toEqual(['undecided', 1, 3])
  })

  it('POST /api/level takes its recordings with the sheet and seals them', async () => {
    const text = demo('left-sender.lp')
    const body = {
      sheet: { channel: 'sender-left', steps: 8, recordings: ['a.lp', 'b.lp'] },
      recordings: [
        { name: 'a.lp', text },
        { name: 'b.lp', text: `${text}# again\n` },
      ],
      seal: true,
    }
    const level = await judged('/api/level', body)
    expect(level.status).toBe(200)
    const { recording, photos } = (
      await ask(bench.server.port, { path: `/api/records/${level.records[0]}/record.json` })
    ).json() as { recording: { name: string }; photos: { name: string }[] }
    expect([recording.name, photos.map(({ name }) => name)]).toEqual(['a.lp', ['b.lp']])
  })

  it('POST /api/mark takes the fill marks of the level page once a logger speaks, and says so before', async () => {
    const fields = { volume: '5 L ± 0.5 %', direction: 'up', attitude: 'level', full: true }
    const mark = (port: number) => send(port, '/api/mark', { kind: 'fill', id: 'left-tank', fields })
    const early = await mark(bench.server.port)
    expect([early.status, early.text]).toEqual([503, expect.stringContaining('connect the logger first')])

    const other = benchFolder()
    copyFileSync(new URL('floatplane-wet.yaml', wet), other.systemPath)
    const logger: Port = {
      name: 'sender',
      async open(listener) {
        const now = { wallNs: BigInt(Date.now()) * 1_000_000n, monotonicNs: process.hrtime.bigint() }
        listener.opened(now)
        for (let i = 0; i < 5; i++) listener.bytes(Buffer.from(`logger r1=${240 - i}\n`), now)
      },
      async close() {},
    }
    const speaking = await openBench(other, { ports: [{ port: logger }] })
    try {
      await until(() => speaking.session.state().newest['sender-left'] !== undefined)
      const answer = await mark(speaking.server.port)
      expect(answer.status).toBe(200)
      const { marks } = answer.json() as unknown as { marks: { kind: string; id: string }[] }
      expect(marks.at(-1)).toMatchObject({ kind: 'fill', id: 'left-tank' })
    } finally {
      await speaking.stop()
      other.remove()
    }
  })

  it.each([
    ['/api/wet', { sheet: { ...soak, stage: 'dive' } }, 'stage'],
    ['/api/wet', { sheet: { ...soak, done: [99] } }, 'done'],
    ['/api/level', { sheet: { channel: 'sender-left', recordings: ['lost.lp'] } }, 'lost.lp'],
    ['/api/level', { sheet: { channel: 'p-left', recordings: ['a.lp'] } }, 'sender-left'],
    ['/api/flow', { sheet: 'none' }, 'flow sheet'],
    ['/api/torque', { sheet: { work: [] } }, 'no fitting'],
  ])(
    'POST %s refuses what it cannot use with 422 and one sentence that names it (%#)',
    async (path, body, word) => {
      const { status, said } = await judged(path, { seal: true, ...body })
      expect(status).toBe(422)
      expect((JSON.parse(said) as { error: string }).error).toContain(word)
    },
  )

  it('POST /api/wet refuses a photo that is no picture, and an entry that it does not know, with 400', async () => {
    const photos = [{ name: 'x.png', base64: 'AAAA' }]
    const odd = await judged('/api/wet', { sheet: soak, seal: true, photos })
    expect([odd.status, odd.said]).toEqual([
      400,
      expect.stringContaining('is no JPEG, PNG, WebP or HEIC picture'),
    ])
    const strange = await judged('/api/wet', { sheet: soak, seal: true, sealed: true })
    expect([strange.status, strange.said]).toEqual([400, expect.stringContaining('sealed')])
  })

  it.each([
    ['500 photos', 200, { photos: Array(500).fill({ name: 'x.png', base64: png }) }],
    ['501 photos', 400, { photos: Array(501).fill({ name: 'x.png', base64: png }) }],
    ['500 recordings', 200, { recordings: Array(500).fill({ name: 'x.lp', text: '' }) }],
    ['501 recordings', 400, { recordings: Array(501).fill({ name: 'x.lp', text: '' }) }],
    ['a name of 500 characters', 200, { photos: [{ name: 'x'.repeat(500), base64: png }] }],
    ['a name of 501 characters', 400, { photos: [{ name: 'x'.repeat(501), base64: png }] }],
    ['a name of an operator of 81 characters', 400, { operator: 'x'.repeat(81) }],
    ['a recording that is no text', 400, { recordings: [{ name: 'x.lp', text: 1 }] }],
  ])('POST /api/wet with %s answers %i', async (_, status, more) => {
    expect((await judged('/api/wet', { sheet: soak, ...more })).status).toBe(status)
  })

  it('POST /api/wet keeps a photo under a name that is safe on every system', async () => {
    const names = ['../a b.png', '..hidden.png', 'C:\\x.png', 'gut-1.png']
    const photos = names.map((name) => ({ name, base64: png }))
    const sealed = await judged('/api/wet', { sheet: soak, seal: true, operator: 'ab', photos })
    const record = (
      await ask(bench.server.port, { path: `/api/records/${sealed.records[0]}/record.json` })
    ).json() as { photos: { name: string; sha256: string }[] }
    expect(record.photos.map(({ name }) => name)).toEqual([
      '__a_b.png',
      '_hidden.png',
      'C__x.png',
      'gut-1.png',
    ])
    const path = `/api/records/${sealed.records[0]}/photos/${record.photos[0].sha256}`
    const photo = await ask(bench.server.port, { path })
    expect([photo.status, photo.headers['content-type']]).toEqual([200, 'image/png'])
  })

  it('POST /api/wet takes 9 MB of photos and refuses 17 MB before it reads them, with the limit in words', async () => {
    const large = (megabytes: number) => {
      const bytes = Buffer.alloc(megabytes * 1024 ** 2 * 0.75)
      Buffer.from(png, 'base64').copy(bytes)
      return { sheet: soak, seal: false, photos: [{ name: 'big.png', base64: bytes.toString('base64') }] }
    }
    expect((await judged('/api/wet', large(9))).status).toBe(200)
    const refused = await judged('/api/wet', large(17))
    expect([refused.status, refused.said]).toEqual([413, expect.stringContaining('larger than 16 MB')])
    const elsewhere = await judged('/api/flow', large(2))
    expect(elsewhere.status).toBe(413)
  })

  it('verify of the archive computes every record that the routes sealed again, each as sealed', async () => {
    const folder = join(at.folder, 'data')
    const sealed = openArchive(folder, { programVersion: '0.0.0-test', readOnly: true })
    const count = sealed.list().length
    sealed.close()
    const report = await verify(folder, { programVersion: '0.0.0-test' })
    expect(report.records).toHaveLength(count)
    for (const { id, findings } of report.records)
      expect(
        findings.filter(({ state }) => state !== 'holds'),
        id,
      ).toEqual([])
  })
})
