import { readFileSync } from 'node:fs'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import type { ImportAnswer } from '#dashboard/api.ts'
import type { RunningBench } from '#dashboard/server/start-bench.ts'
import { DemoBench } from '#ingest/sources/demo-bench.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import expected from '../../../recordings/expected.json' with { type: 'json' }
import { ask, send } from './ask.ts'
import { benchFolder, openBench } from './open-bench.ts'
import { until } from './until.ts'

const at = benchFolder()
const system = systemFromFile(readFileSync(at.systemPath, 'utf8'), 'aircraft.yaml')
const leak = readFileSync(new URL('../../../recordings/lines-leak.lp', import.meta.url))
let bench: RunningBench
let port = 0
let record = ''

const look = async (path: string) => {
  const answer = await ask(port, { path })
  return {
    status: answer.status,
    headers: answer.headers,
    said: answer.json() as never as Record<string, unknown>,
  }
}
const order = {
  name: 'lines-leak.lp',
  base64: leak.toString('base64'),
  changedMs: 1_767_225_600_000,
  zone: 'Europe/Oslo',
  hold: null as string | null,
  typed: false,
  operator: null as string | null,
}
const imported = async (more: object) => {
  const answer = await send(port, '/api/import', { ...order, ...more })
  return { status: answer.status, said: answer.json() as unknown as ImportAnswer & { error?: string } }
}

beforeAll(async () => {
  const demo = new DemoBench({ system, speed: 1e-9, seed: 5, leaking: {} })
  bench = await openBench(at, { ports: [{ port: demo }], demo, demoOperator: false })
  port = bench.server.port
  demo.advance(60)
  await until(async () => (await look('/api/state')).said.nowS !== null)
  record = (await imported({ name: 'left tank 1:2.txt', operator: 'ab' })).said.records[0]
})
afterAll(async () => {
  await bench.stop()
  at.remove()
})

describe('a dropped recording', () => {
  it('is told before it is kept: its verdict is that of recordings/expected.json, and nothing is sealed', async () => {
    const before = bench.archive.list().length
    const { status, said } = await imported({})
    const { verdict } = expected.recordings.find(({ file }) => file === 'lines-leak.lp')!
    expect([status, said]).toEqual([
      200,
      {
        ...{
          about: 'a recording of this program',
          columns: [],
          points: null,
          rejected: 0,
          from: null,
          to: null,
        },
        ...{ holds: [{ hold: 'feed-lines-10psi', verdict }], records: [] },
      },
    ])
    expect(bench.archive.list()).toHaveLength(before)
    expect(bench.archive.get(record)).toMatchObject({
      operator: 'ab',
      recording: { name: 'left tank 1_2.lp' },
    })
  })

  it('of a spreadsheet is previewed with its columns, its rows and their time, else that of the file', async () => {
    const rows = ['pump-up', 'settle', 'hold', 'hold', 'vent'].map(
      (stage, n) => `2026-01-01T00:00:0${n}Z,10.${n},20,${stage}`,
    )
    const base64 = Buffer.from(['time,p-lines,t-lines,stage', ...rows, ''].join('\n')).toString('base64')
    const dated = await imported({ name: 'a.csv', base64, hold: 'feed-lines-10psi' })
    expect([dated.status, dated.said.error]).toEqual([200, undefined])
    expect(dated.said).toMatchObject({ rejected: 0, from: '1767225600000000000', to: '1767225604000000000' })
    expect([dated.said.points, dated.said.holds.length]).toEqual([5, 1])
    expect(dated.said.columns.map(({ title }) => title)).toEqual(['time', 'p-lines', 't-lines', 'stage'])
    const untimed = Buffer.from(
      ['seconds,p-lines,t-lines,stage', ...rows.map((row) => row.slice(18, 19) + row.slice(20)), ''].join(
        '\n',
      ),
    )
    const late = await imported({
      name: 'b.csv',
      base64: untimed.toString('base64'),
      hold: 'feed-lines-10psi',
      changedMs: 1_767_225_600_999,
    })
    expect([late.status, late.said.error ?? late.said.from]).toEqual([200, '1767225600000000000'])
    expect(dated.said.about).not.toBe('a recording of this program')
  })

  it.each([
    ['name', { name: 'a/b.lp' }, 'name is no name of a file'],
    ['name', { name: 'a\\b.lp' }, 'name is no name of a file'],
    ['name', { name: 'x'.repeat(501) }, 'name is longer than 500 characters'],
    ['base64', { base64: 'AA-A' }, 'base64 is no base64'],
    ['base64', { base64: 'AA=A' }, 'base64 is no base64'],
    ['zone', { zone: '' }, 'zone is no zone'],
    ['zone', { zone: 'x'.repeat(61) }, 'zone is no zone'],
    ['zone', { zone: 'Europe Oslo' }, 'zone is no zone'],
    ['changedMs', { changedMs: 1.5 }, 'changedMs'],
    ['hold', { hold: 'a b' }, 'hold is no id'],
    ['more', { more: 1 }, 'more'],
  ])('with a wrong %s (%#) is refused with 400', async (_, wrong, word) => {
    const { status, said } = await imported({ base64: 'AAAA', ...wrong })
    expect([status, said.error]).toEqual([400, expect.stringContaining(word)])
  })

  it.each([
    ['a recording', 'lines-leak.lp', `${leak.subarray(0, 24)}bad\n`],
    ['a file without a row', 'notes.csv', 'a,b\n'],
    ['bytes', 'x.bin', '\0\x01'],
  ])('that is %s without a hold is refused with 409 by the name that it had', async (_, name, text) => {
    const { status, said } = await imported({ name, base64: Buffer.from(text).toString('base64') })
    expect([status, said.error]).toEqual([409, expect.stringContaining(name)])
    expect(said.error).not.toContain('stillhold-')
  })

  it('takes a zone of 60 characters as text: its table says whether it is one', async () => {
    const { status } = await imported({ zone: `Etc/${'x'.repeat(56)}`, base64: 'AA==' })
    expect(status).toBe(409)
  })
})

describe('the live routes', () => {
  it('GET /api/live gives the newest readings of every channel in at most so many slices', async () => {
    const slices = async (query: string) =>
      (await look(`/api/live${query}`)).said as unknown as { channel: string; timeS: number[] }[]
    const all = await slices('')
    expect(all.map(({ channel }) => channel)).toEqual(system.channels.map(({ id }) => id))
    expect(all[0].timeS.length).toBeGreaterThan(100)
    for (const { timeS } of await slices('?points=10')) expect(timeS.length).toBeLessThanOrEqual(10)
    for (const { timeS } of await slices('?from=50')) expect(Math.min(...timeS)).toBeGreaterThanOrEqual(50)
    expect(await slices('?points=&from=')).toEqual(all)
  })

  it.each([
    ['/api/live?points=1', 200],
    ['/api/live?points=20000', 200],
    ['/api/live?points=0', 'points=0 is no number between 1 and 20000.'],
    ['/api/live?points=20001', 'points=20001 is no number between 1 and 20000.'],
    ['/api/live?from=soon', 'from=soon is no number between -Infinity and Infinity.'],
    ['/api/live?from=Infinity', 'from=Infinity is no number between -Infinity and Infinity.'],
    [
      `/api/live?from=${'x'.repeat(41)}`,
      `from=${'x'.repeat(40)} is no number between -Infinity and Infinity.`,
    ],
    ['/api/records/RECORD/columns?points=20000', 200],
    ['/api/records/RECORD/columns?points=20001', 'points=20001 is no number between 1 and 20000.'],
    ['/api/records/RECORD/columns?points=0', 'points=0 is no number between 1 and 20000.'],
    ['/api/records/RECORD/columns?to=x', 'to=x is no number between -Infinity and Infinity.'],
    ['/api/records/RECORD/columns?from=x', 'from=x is no number between -Infinity and Infinity.'],
    ['/api/hold/checks?hold=feed-lines-10psi&units=furlong', 'units=: unknown unit "furlong"'],
  ])('GET %s answers %s', async (path, answer) => {
    const { status, said } = await look(path.replace('RECORD', record))
    if (answer === 200) expect(status).toBe(200)
    else expect([status, said.error]).toEqual([400, expect.stringContaining(String(answer))])
  })

  it('GET /api/fields names each field that came with its unit, and GET /api/ports the port', async () => {
    const fields = (await look('/api/fields')).said as unknown as { field: string }[]
    const named = fields.map(({ field }) => field)
    for (const { from } of system.channels) expect(named).toContain(from.field)
    expect((await look('/api/ports')).said).toHaveLength(1)
  })

  it('GET /api/hold/checks tells what keeps a hold from starting, in the units asked for', async () => {
    const checks = async (query: string) =>
      (await look(`/api/hold/checks${query}`)).said as unknown as { message: string; state: string }[]
    expect((await checks('?hold=feed-lines-10psi')).length).toBeGreaterThan(0)
    expect([await checks(''), await checks('?hold=none')]).toEqual([[], []])
  })

  it('GET /api/live/compensated has no curve before a hold', async () => {
    expect((await look('/api/live/compensated')).status).toBe(200)
  })

  it('GET /api/state and a change tell the role of who asks', async () => {
    expect((await look('/api/state')).said.role).toBe('operator')
    const noted = await send(port, '/api/mark', { kind: 'note', fields: { text: 'here' } })
    expect([noted.status, noted.json().role]).toEqual([200, 'operator'])
    expect((await send(port, '/api/demo', { operator: 'nobody' })).status).toBe(400)
    expect((await send(port, '/api/demo', { operator: 'you' })).json().role).toBe('operator')
  })
})

describe('the record routes', () => {
  it('GET /api/records filters by what is given, and by nothing for an empty value', async () => {
    const ids = async (query: string) =>
      ((await look(`/api/records${query}`)).said as unknown as { id: string }[]).map(({ id }) => id)
    const all = await ids('')
    expect(all).toContain(record)
    expect(await ids('?verdict=&section=&kind=&text=')).toEqual(all)
    expect(await ids('?verdict=fail&kind=hold')).toEqual([record])
    expect([await ids('?verdict=pass'), await ids('?kind=look'), await ids('?text=no-such-word')]).toEqual([
      [],
      [],
      [],
    ])
    expect(await ids('?other=x')).toEqual(all)
  })

  it.each(['..%2fkey', 'a b', 'x'.repeat(101), 'a@xyz', `a@${'0'.repeat(65)}`])(
    'GET /api/records/%s is no record id: 400',
    async (id) => {
      for (const rest of ['', '/marks', '/record.json']) {
        const { status, said } = await look(`/api/records/${encodeURI(id)}${rest}`)
        expect([status, said.error]).toEqual([400, 'That is no record id.'])
      }
    },
  )

  it('GET of the parts of a record: marks, columns of a stretch, recording and record as files', async () => {
    expect(JSON.stringify((await look(`/api/records/${record}/marks`)).said)).toContain('"kind":"stage"')
    const columns = (await look(`/api/records/${record}/columns?from=10&to=20&points=5.5`))
      .said as unknown as {
      channel: string
      timeS: number[]
    }[]
    expect(columns.map(({ channel }) => channel)).toContain('p-lines')
    for (const { timeS } of columns.filter((one) => one.timeS.length > 0)) {
      expect([Math.min(...timeS) >= 9, Math.max(...timeS) <= 21, timeS.length <= 6]).toEqual([
        true,
        true,
        true,
      ])
    }
    const recording = await ask(port, { path: `/api/records/${record}/recording.lp` })
    expect(recording.text).toBe(readFileSync(bench.archive.recordingPath(record)!, 'utf8'))
    expect(recording.headers).toMatchObject({
      'content-type': 'text/plain; charset=utf-8',
      'content-disposition': 'attachment; filename="left_tank_1_2.lp"',
      'content-length': String(Buffer.byteLength(recording.text)),
    })
    const sealed = await ask(port, { path: `/api/records/${record}/record.json` })
    expect(sealed.text).toBe(bench.archive.getText(record))
    expect(sealed.headers).toMatchObject({
      'content-type': 'application/json',
      'content-disposition': `attachment; filename="${record}.json"`,
    })
    const table = await ask(port, { path: `/api/records/${record}/samples.csv` })
    expect(table.headers).toMatchObject({
      'content-type': 'text/csv; charset=utf-8',
      'content-disposition': 'attachment; filename="left_tank_1_2.csv"',
    })
  })

  it('GET of what a record has not: 404 and its name', async () => {
    const work = await send(port, '/api/mark', {
      kind: 'work',
      id: 'F12',
      fields: { action: 'retighten', by: 'ab' },
    })
    expect(work.status).toBe(200)
    const { id } = bench.archive.list({ kind: 'work' })[0]
    for (const part of ['columns', 'marks', 'recording.lp', 'samples.csv']) {
      const { status, said } = await look(`/api/records/${id}/${part}`)
      expect([status, said.error]).toEqual([404, `The record ${id} has no recording.`])
    }
    const photo = await look(`/api/records/${record}/photos/${'0'.repeat(64)}`)
    expect([photo.status, photo.said.error]).toEqual([404, 'The record has no such photo.'])
    const whole = (await look(`/api/records/${id}`)).said
    expect(whole).toMatchObject({ curves: [], statedHoldS: null, corrected: null, meaning: [], budget: null })
  })

  it.each([
    ['gauges', null],
    ['history', null],
    ['campaign', null],
    ['ledger', null],
    ['system', null],
    ['layouts', null],
    ['system/parts', null],
    ['campaign.pdf', 'campaign.pdf'],
    ['dossier.pdf', 'dossier.pdf'],
  ])(
    'GET /api/%s answers, a PDF as a file',
    async (path, file) => {
      const answer = await ask(port, { path: `/api/${path}` })
      expect(answer.status).toBe(200)
      if (file === null) expect(Object.keys(answer.json()).length).toBeGreaterThan(0)
      else {
        expect(answer.text.slice(0, 5)).toBe('%PDF-')
        expect(answer.headers).toMatchObject({
          'content-type': 'application/pdf',
          'content-disposition': `attachment; filename="${file}"`,
        })
      }
    },
    60_000,
  )

  it('PUT /api/system/edits names what the file has not, and takes at most 50 edits', async () => {
    const edit = { list: 'fittings', id: 'F99', keys: { name: 'x' } }
    const put = (edits: unknown) => send(port, '/api/system/edits', { edits }, { method: 'PUT' })
    const odd = await put([edit])
    expect([odd.status, odd.json().error]).toEqual([404, 'The system file has no F99 among its fittings.'])
    const many = await put(Array(51).fill(edit))
    expect([many.status, many.text]).toEqual([400, expect.stringContaining('is too long')])
    expect((await put(Array(50).fill(edit))).status).toBe(404)
    const before = bench.session.systemFile.text
    const done = await put([{ list: 'fittings', id: 'F12', keys: { name: 'a new name' } }])
    expect(done.status).toBe(200)
    expect(bench.session.systemFile.text).toContain('a new name')
    expect((await send(port, '/api/system', { text: before }, { method: 'PUT' })).status).toBe(200)
  })
})
