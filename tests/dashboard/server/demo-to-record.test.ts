import { readFileSync } from 'node:fs'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import type { LiveState, RunningHold, SampleBatch, StreamedState } from '#dashboard/api.ts'
import type { RecordSummary } from '#dashboard/archive/record.ts'
import type { RunningBench } from '#dashboard/server/start-bench.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { DemoBench } from '#ingest/sources/demo-bench.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { ask, send } from './ask.ts'
import { benchFolder, openBench } from './open-bench.ts'
import { StreamReader } from './read-stream.ts'
import { until } from './until.ts'

const at = benchFolder()
const system = systemFromFile(readFileSync(at.systemPath, 'utf8'), 'aircraft.yaml')
let bench: RunningBench
let demo: DemoBench
let port = 0

beforeAll(async () => {
  // Slow by the wall clock: the test itself lets the bench's time pass.
  demo = new DemoBench({ system, speed: 1e-9, seed: 5, leaking: { F12: 3 } })
  bench = await openBench(at, { ports: [{ port: demo }], demo, demoOperator: false })
  port = bench.server.port
})
afterAll(async () => {
  await bench.stop()
  at.remove()
})

const state = async () => (await ask(port, { path: '/api/state' })).json() as unknown as LiveState
/** Lets bench time pass in steps, as a logger would, with time for looks in between. */
async function pass(seconds: number): Promise<void> {
  for (let left = seconds; left > 0; left -= 10) {
    demo.advance(Math.min(10, left))
    await new Promise((resolve) => setTimeout(resolve, 5))
  }
}
const stage = (name: string) => send(port, '/api/hold/stage', { stage: name })

/** One hold through the same requests as the page's, up to its record. */
async function hold(id: string, retests: string | null): Promise<NonNullable<LiveState['last']>> {
  const before = (await state()).last?.record
  await pass(25)
  const started = await send(port, '/api/hold/start', {
    hold: id,
    operator: 'O. Perator',
    witness: 'W. Itness',
    stateSheet: ['every opening plugged'],
    retests,
  })
  expect(started.status).toBe(200)
  await pass(48)
  expect((await stage('settle')).status).toBe(200)
  await pass(182)
  expect((await state()).hold?.stage).toBe('hold')
  await pass(300)
  await until(async () => ((await state()).hold?.looks.length ?? 0) > 0)
  await pass(300)
  expect((await stage('vent')).status).toBe(200)
  await pass(60)
  const { last } = await until(async () => {
    const now = await state()
    return now.last && now.last.record !== before ? now : null
  })
  return last!
}

describe('a session from the first reading to the sealed record', { timeout: 90_000 }, () => {
  it('starts nothing before a reading has come, and nothing that the system file does not have', async () => {
    const order = { hold: 'feed-lines-10psi', operator: null, witness: null, stateSheet: [], retests: null }
    const early = await send(port, '/api/hold/start', order)
    expect([early.status, early.json().error]).toEqual([
      409,
      'No reading has arrived yet: connect the logger first.',
    ])
    await pass(5)
    expect((await send(port, '/api/hold/start', { ...order, hold: 'no-such-hold' })).status).toBe(404)
    expect((await stage('settle')).status).toBe(409)
  })

  it('fails a hold with a weeping flare, tells so live, and seals what `analyze` finds in the recording', async () => {
    const spec = system.holds.find(({ id }) => id === 'feed-lines-10psi')!
    const reader = new StreamReader(port)
    const last = await hold('feed-lines-10psi', null)
    reader.close()
    expect(last.result.verdict).toBe('fail')
    const sealed = bench.archive.get(last.record)
    const bytes = readFileSync(bench.archive.recordingPath(last.record)!)
    const again = analyzeRecording(readRecording(bytes, system, sealed.recording!.name), system, {
      hold: 'feed-lines-10psi',
    })
    expect(again).toHaveLength(1)
    expect(JSON.parse(JSON.stringify(again[0].result))).toEqual(sealed.result)
    expect(last.result).toEqual(sealed.result)
    const states = reader.events
      .filter(({ event }) => event === 'state')
      .map(({ data }) => JSON.parse(data) as StreamedState)
    const live = states
      .map((each) => each.hold)
      .filter((each): each is RunningHold => (each?.looks?.length ?? 0) > 0)
    expect(live.length).toBeGreaterThan(0)
    expect(live.map(({ verdict }) => verdict)).not.toContain('pass')
    // The bench runs faster than real time: on a busy machine the last look may be an early, wide one.
    const late = live.filter(({ looks }) => looks[looks.length - 1].atS > 0.8 * spec.holdS)
    expect(new Set(late.map(({ verdict }) => verdict)).size).toBeLessThanOrEqual(1)
    expect(late.at(-1)?.verdict ?? 'fail').toBe('fail')
    const samples = reader.events.filter(({ event }) => event === 'samples')
    const channels = new Set(
      samples.flatMap(({ data }) => Object.keys((JSON.parse(data) as SampleBatch).channels)),
    )
    expect(channels).toEqual(new Set(system.channels.map(({ id }) => id)))
  })

  it('passes the retest after the flare was retightened between the holds, which is sealed as work', async () => {
    const failed = (await state()).last!.record
    const work = await send(port, '/api/mark', {
      kind: 'work',
      id: 'F12',
      fields: { action: 'retighten', torque_Nm: 13.6, by: 'initials' },
    })
    expect(work.status).toBe(200)
    const last = await hold('feed-lines-10psi', failed)
    expect(last.result.verdict).toBe('pass')
    const records = (await ask(port, { path: '/api/records' })).json() as unknown as RecordSummary[]
    expect(records.map(({ kind, verdict, retests }) => [kind, verdict, retests])).toEqual([
      ['hold', 'pass', failed],
      ['work', null, null],
      ['hold', 'fail', null],
    ])
    const recording = await ask(port, { path: `/api/records/${last.record}/recording.lp` })
    expect(recording.text).toContain('mark,kind=work,from=operator,id=F12')
    expect(recording.text).toContain('text="checked: every opening plugged"')
  })

  it('seals a correction of a mark beside a sealed hold, which names the hold', async () => {
    const { record } = (await state()).last!
    const noted = await send(port, '/api/mark', { kind: 'note', fields: { text: 'sun on the wing' } })
    const { ns } = (noted.json() as unknown as LiveState).marks.at(-1)!
    expect((await send(port, '/api/mark', { kind: 'correction', fields: { of: ns } })).status).toBe(200)
    expect(bench.archive.list({ kind: 'correction' })).toMatchObject([{ corrects: record }])
    const open = await ask(port, { path: `/api/records/${record}` })
    // The note came after its recording had ended.
    expect(open.json().corrected).toBeNull()
  })

  it('hands out record, columns, report, table, ledger and hunt of what was sealed', async () => {
    const { record } = (await state()).last!
    const open = await ask(port, { path: `/api/records/${record}` })
    expect(open.text).toContain('"compensatedPa":[')
    // What the allowance is for, whenever the hold ended: by the record's own file, not by the one in force.
    expect(open.json()).toMatchObject({
      statedHoldS: system.holds.find((one) => one.id === 'feed-lines-10psi')!.holdS,
    })
    const columns = await ask(port, { path: `/api/records/${record}/columns?points=50&from=0&to=100` })
    expect(columns.text).toContain('"channel":"p-lines"')
    const report = await ask(port, { path: `/api/records/${record}/report.pdf` })
    expect(report.text.slice(0, 5)).toBe('%PDF-')
    expect(report.headers['content-disposition']).toBe(`attachment; filename="${record}.pdf"`)
    const table = await ask(port, { path: `/api/records/${record}/samples.csv` })
    expect(table.text).toMatch(/^time,seconds,p-left_Pa,/)
    expect((await ask(port, { path: '/api/ledger' })).text).toContain('"proven":7')
    expect((await ask(port, { path: '/api/hunt' })).json().system).toBe(system.name)
    expect((await ask(port, { path: '/api/records/0099-nothing' })).status).toBe(404)
  }, 60_000)

  it('keeps every line of the session: nothing of the logger’s is missing between the recordings', async () => {
    const lines = bench.archive
      .list({ kind: 'hold' })
      .flatMap(({ id }) => readFileSync(bench.archive.recordingPath(id)!, 'utf8').split('\n'))
      .filter((line) => line.startsWith('logger '))
    const times = lines
      .map((line) => BigInt(line.slice(line.lastIndexOf(' ') + 1)))
      .sort((a, b) => (a < b ? -1 : 1))
    const steps = new Set(times.slice(1).map((time, index) => Number(time - times[index])))
    // The demo's logger speaks twice a second.
    expect([...steps]).toEqual([500_000_000])
  })
})
