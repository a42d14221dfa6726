import { once } from 'node:events'
import { createServer, type ServerResponse } from 'node:http'
import type { AddressInfo } from 'node:net'
import { planHold } from '#analysis/plan/plan-hold.ts'
import { figuresIn, unitsNamed, unitsOfSystem } from '#analysis/reasons/figures.ts'
import type {
  Alarm,
  LeakLook,
  LiveState,
  MinMaxColumns,
  RecordMarks,
  SampleBatch,
  Stage,
  StreamedState,
} from '#dashboard/api.ts'
import { readStaticPage } from '#dashboard/server/http/static-page.ts'
import { startChecks } from '#dashboard/server/session/start-checks.ts'
import { allowanceDropPa, lookAt, lookAtBoth, readingsAt, stages } from './stand-in-curve.ts'
import { campaign, hunt, ledger, pastGauges, pastHolds } from './stand-in-evidence.ts'
import { StandInLooks } from './stand-in-looks.ts'
import { columnsOf, openRecord, recordIds, resultOf, summaries } from './stand-in-records.ts'
import { standInSystem } from './stand-in-system.ts'

/**
 * A server with canned answers, for states of the bench that are hard to provoke: a lost logger, a stalled stream,
 * a day-long record, a stop. It stands in for the server only where the page alone is on trial.
 */
export interface StandIn {
  readonly url: string
  /** Bench time the script stands at; it runs on from here by itself. */
  at(benchS: number): void
  /** Tells all that happens until bench time `benchS` as fast as the page takes it, and runs on from there. */
  forward(benchS: number): Promise<void>
  alarms(alarms: readonly Alarm[]): void
  /** Keeps connections open and says nothing. */
  stall(on: boolean): void
  idle(on: boolean): void
  readonly marks: LiveState['marks'][number][]
  close(): Promise<void>
}

const policy =
  "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; font-src 'self'; connect-src 'self'; base-uri 'none'"

const markTime = (timeS: number): string => new Date(1_767_225_600_000 + timeS * 1000).toISOString()

interface Options {
  readonly folder: string
  readonly port?: number
  /** Bench seconds that pass in one real second. */
  readonly speed?: number
  readonly dropPa?: number
  readonly readingsPerS?: number
  /** The hold covers the right feed too, which leaks. */
  readonly several?: boolean
  /** How long the hold is let go on, however long it was planned, [s]. */
  readonly lengthS?: number
  /** The gauge of the left feed gave its last reading so long ago, [s]; thermometer and barometer go on. */
  readonly gaugeQuietS?: number
}

export async function startStandIn(options: Options): Promise<StandIn> {
  const page = readStaticPage(options.folder)
  const speed = options.speed ?? 1
  const dropPa = options.dropPa ?? 0.3 * allowanceDropPa
  const rate = options.readingsPerS ?? 10
  const lengthS = options.lengthS ?? stages.lengthS
  const gaugeQuietS = options.gaugeQuietS ?? 0
  const looks = new StandInLooks(options.several ? lookAtBoth : lookAt, dropPa)
  let zeroMs = Date.now()
  let zeroS = 0
  let alarms: readonly Alarm[] = []
  let stalled = false
  let idle = false
  const marks: LiveState['marks'][number][] = []
  const streams = new Set<ServerResponse>()
  const nowS = (): number => zeroS + ((Date.now() - zeroMs) / 1000) * speed

  const state = (): LiveState => {
    const now = nowS()
    const stage: Stage =
      now < stages.settleS
        ? 'pump-up'
        : now < stages.holdS
          ? 'settle'
          : now < stages.holdS + lengthS
            ? 'hold'
            : 'vent'
    const startedS = {
      'pump-up': stages.pumpUpS,
      settle: stages.settleS,
      hold: stages.holdS,
      vent: stages.holdS + lengthS,
      idle: 0,
    }[stage]
    const heldS = Math.min(now - stages.holdS, lengthS)
    const seen = looks.until(heldS)
    const last = seen.at(-1)
    const decided =
      last &&
      (last.dropPa.high < allowanceDropPa ? 'pass' : last.dropPa.low > allowanceDropPa ? 'fail' : null)
    const readings = readingsAt(now, dropPa, lengthS)
    return {
      version: '0.1.0',
      systemName: standInSystem.name,
      systemChanges: 0,
      speed,
      demo: true,
      nowS: now,
      recording: 'bench.lp',
      newest: Object.fromEntries(
        Object.entries(readings).map(([id, reading]) => [
          id,
          {
            timeS: id === 'p-left' ? now - gaugeQuietS : now,
            quietS: id === 'p-left' && gaugeQuietS > 3 ? gaugeQuietS : null,
            reading,
            lately: { asRead: reading, low: reading, high: reading },
          },
        ]),
      ),
      ports: [
        {
          name: '/dev/bench',
          open: true,
          dialect: 'key-value',
          confirmed: false,
          lines: Math.floor(now * 10),
          rejected: 2,
          missing: 0,
          silentS: 0.1,
          fault: null,
        },
      ],
      hold: idle
        ? null
        : {
            hold: options.several ? 'both-feeds-10psi' : 'left-feed-10psi',
            stage,
            stageStartedS: startedS,
            stageLengthS:
              stage === 'settle' ? stages.holdS - stages.settleS : stage === 'hold' ? stages.lengthS : null,
            looks: seen,
            allowanceDropPa,
            verdict: decided ?? null,
            reasons:
              decided === 'pass'
                ? [
                    {
                      code: 'leak-below-allowance',
                      message: 'The upper bound of the leak is below the allowance.',
                    },
                  ]
                : [],
            decidesInS: last && !decided ? looks.decidesInS : null,
            compensatedPa: stage === 'hold' ? { 'left-feed': compensatedAt(now) } : {},
            pumpUpS: stages.pumpUpS,
            ...(stage === 'settle'
              ? {
                  settled: {
                    ready: stages.holdS - now <= 10,
                    nowPaPerS: -3.4,
                    beforePaPerS: -7.1,
                    startsInS: stages.holdS - now <= 10 ? stages.holdS - now : null,
                  },
                }
              : {}),
          },
      last: idle ? { record: recordIds[0], result: resultOf(recordIds[0]) } : null,
      alarms,
      marks: [
        { ns: '60', timeS: stages.pumpUpS, kind: 'stage', id: null, text: 'pump-up' },
        { ns: '110', timeS: stages.settleS, kind: 'stage', id: null, text: 'settle' },
        ...(now >= stages.holdS
          ? [{ ns: '230', timeS: stages.holdS, kind: 'stage', id: null, text: 'hold' }]
          : []),
        ...marks,
      ],
      role: 'operator',
    }
  }
  const compensatedAt = (s: number): number =>
    68_947 * 1.0 - (dropPa * (s - stages.holdS)) / lengthS + 6 * Math.sin(s * 1.7)

  const live = (fromS: number, points: number): MinMaxColumns[] => {
    const to = nowS()
    const step = Math.max(1 / rate, (to - fromS) / points)
    const columns = new Map<string, { timeS: number[]; low: number[]; high: number[] }>()
    for (let s = Math.max(0, fromS); s < to; s += step) {
      for (const [id, reading] of Object.entries(readingsAt(s, dropPa, lengthS))) {
        const one = columns.get(id) ?? { timeS: [], low: [], high: [] }
        one.timeS.push(s)
        one.low.push(reading)
        one.high.push(reading)
        columns.set(id, one)
      }
    }
    return [...columns].map(([channel, one]) => ({ channel, ...one }))
  }

  const send = (event: string, data: unknown): boolean => {
    if (stalled) return true
    const text = `event: ${event}\ndata: ${JSON.stringify(data)}\n\n`
    return [...streams].map((stream) => stream.write(text)).every(Boolean)
  }
  let toldLooks: readonly LeakLook[] | null = null
  /** As the server: without the looks while they are those of the state before. */
  const sendState = (): boolean => {
    const now = state()
    const known = toldLooks
    toldLooks = now.hold?.looks ?? null
    if (now.hold === null || toldLooks !== known) return send('state', now)
    const { looks: _, ...hold } = now.hold
    return send('state', { ...now, hold } satisfies StreamedState)
  }
  const batchOf = (fromS: number, toS: number, readingsPerS: number): SampleBatch => {
    const channels: Record<string, { timeS: number[]; reading: number[] }> = {}
    for (let s = fromS; s <= toS; s += 1 / readingsPerS) {
      for (const [id, reading] of Object.entries(readingsAt(s, dropPa, lengthS))) {
        if (id === 'p-left' && gaugeQuietS > 0) continue
        channels[id] ??= { timeS: [], reading: [] }
        channels[id].timeS.push(s)
        channels[id].reading.push(reading)
      }
    }
    return { channels }
  }
  let sentS = nowS()
  let beats = 0
  let forwarding = false
  const timer = setInterval(() => {
    if (forwarding) return
    const to = nowS()
    if (!alarms.some((one) => one.code.startsWith('logger'))) {
      const batch = batchOf(Math.max(sentS + 1 / rate, to - 5), to, rate)
      sentS = Object.values(batch.channels)[0]?.timeS.at(-1) ?? sentS
      send('samples', batch)
    }
    // Each second, and soon after a look.
    if (beats++ % 10 === 0 || (toldLooks !== null && state().hold?.looks !== toldLooks)) sendState()
    if (beats % 50 === 0) send('beat', {})
  }, 100)

  const answer = async (method: string, url: URL, body: string): Promise<unknown> => {
    const path = url.pathname
    const number = (name: string, otherwise: number): number =>
      Number(url.searchParams.get(name) ?? otherwise)
    if (path === '/api/state') return state()
    if (path === '/api/live') return live(number('from', 0), number('points', 1000))
    if (path === '/api/live/compensated') {
      const timeS = []
      const endS = Math.min(nowS(), stages.holdS + lengthS)
      // No more points than the fit has blocks of time.
      const everyS = Math.max(2, (endS - stages.holdS) / 130)
      for (let s = stages.holdS; s < endS; s += everyS) timeS.push(s)
      const left = { section: 'left-feed', timeS, compensatedPa: timeS.map(compensatedAt) }
      const right = timeS.map(
        (s) => 1.03 * compensatedAt(s) - (3 * allowanceDropPa * (s - stages.holdS)) / lengthS,
      )
      return options.several ? [left, { section: 'right-feed', timeS, compensatedPa: right }] : [left]
    }
    if (path === '/api/system' && method === 'PUT') {
      const { text } = JSON.parse(body) as { text: string }
      const lines = text.split('\n')
      const wrong = lines.findIndex((line) => line.includes('presure'))
      return wrong >= 0
        ? {
            text,
            system: null,
            errors: [
              {
                line: wrong + 1,
                column: lines[wrong].indexOf('presure') + 1,
                message: 'Unknown key "presure"; the nearest known key is "pressure".',
              },
            ],
          }
        : { text, system: standInSystem, errors: [] }
    }
    if (path === '/api/system') return { text: systemText, system: standInSystem, errors: [] }
    if (path === '/api/hold/checks') {
      const spec = standInSystem.holds.find(({ id }) => id === url.searchParams.get('hold'))
      // Before the pump-up an open section reads zero.
      const { 'p-left': gauge, ...others } = state().newest
      const newest = { ...others, 'p-left': { ...gauge, reading: 3 } }
      const figures = figuresIn(unitsAsked(url))
      return spec
        ? startChecks(spec, standInSystem, { newest, unitOf: () => null, isPlaced: () => true, figures })
        : []
    }
    if (path === '/api/plan') {
      const { hold } = JSON.parse(body) as { hold: string }
      return planHold(standInSystem, hold, { units: unitsAsked(url) })
    }
    if (path === '/api/ledger') return ledger
    if (path === '/api/hunt') return hunt
    if (path === '/api/campaign') return campaign
    if (path === '/api/layouts') return []
    if (path === '/api/history') return pastHolds
    if (path === '/api/gauges') return pastGauges
    if (path === '/api/ports') return state().ports
    if (path === '/api/fields')
      return Object.entries({ p1: 10.02, t1: 18.2, baro: 1011.8, volts: 4.98 }).map(([field, raw]) => ({
        measurement: 'logger',
        field,
        tags: {},
        raw,
        timeS: nowS(),
        channel: { p1: 'p-left', t1: 't-left', baro: 'baro', volts: null }[field],
      }))
    if (path === '/api/sharing')
      return {
        loopbackOnly: true,
        advice: 'Only this machine can open the page: start the program with --lan to let others in.',
        links: [],
      }
    if (path === '/api/records') {
      const verdict = url.searchParams.get('verdict')
      return summaries().filter((one) => !verdict || one.verdict === verdict)
    }
    if (/^\/api\/records\/[^/]+\/marks$/.test(path))
      return {
        marks: [
          ...['pump-up', 'settle', 'hold', 'vent'].map((text, i) => {
            const timeS = [60, 110, 230, 830][i]
            return { timeS, time: markTime(timeS), kind: 'stage', id: null, text }
          }),
          { timeS: 400, time: markTime(400), kind: 'look', id: 'F07', text: 'bubbles' },
          { timeS: 420, time: markTime(420), kind: 'note', id: null, text: 'door opened, sun on the wing' },
        ],
        stateSheet: ['V1 (left shut-off) is shut', 'Doors shut'],
      } satisfies RecordMarks
    const record = /^\/api\/records\/([^/]+)(\/columns|\/record\.json)?$/.exec(path)
    if (record && recordIds.includes(record[1])) {
      if (record[2] === '/record.json') return openRecord(record[1]).record
      return record[2]
        ? columnsOf(
            record[1],
            number('from', 0),
            number('to', Number.POSITIVE_INFINITY),
            number('points', 1000),
          )
        : openRecord(record[1])
    }
    if (path === '/api/mark') {
      const mark = JSON.parse(body) as { kind: string; id?: string; fields: Record<string, string> }
      if (mark.kind === 'correction') {
        marks.splice(
          marks.findIndex(({ ns }) => ns === mark.fields.of),
          1,
        )
        return state()
      }
      marks.push({
        ns: String(1e9 + marks.length),
        timeS: nowS(),
        kind: mark.kind,
        id: mark.id ?? null,
        text: String(Object.values(mark.fields)[0]),
      })
      return state()
    }
    if (path === '/api/hold/start' || path === '/api/hold/stage') {
      idle = false
      return state()
    }
    return null
  }

  const server = createServer((request, response) => {
    const url = new URL(request.url ?? '/', 'http://stand-in')
    if (url.pathname === '/api/stream') {
      response.writeHead(200, { 'content-type': 'text/event-stream', 'cache-control': 'no-store' })
      response.flushHeaders()
      streams.add(response)
      if (!stalled) response.write(`event: state\ndata: ${JSON.stringify(state())}\n\n`)
      request.on('close', () => streams.delete(response))
      return
    }
    const chunks: Buffer[] = []
    request.on('data', (chunk: Buffer) => chunks.push(chunk))
    request.on('end', async () => {
      if (url.pathname.startsWith('/api/')) {
        const value = await answer(request.method ?? 'GET', url, Buffer.concat(chunks).toString())
        response.writeHead(value === null ? 404 : 200, { 'content-type': 'application/json' })
        response.end(JSON.stringify(value ?? { error: `Nothing is known of ${url.pathname}.` }))
        return
      }
      const file = page.get(url.pathname)
      if (!file) return response.writeHead(404).end()
      const { br } = file.encoded
      response.writeHead(200, {
        'content-type': file.type,
        'content-security-policy': policy,
        ...(br ? { 'content-encoding': 'br' } : {}),
      })
      response.end(br ?? file.bytes)
    })
  })
  await new Promise<void>((done) => server.listen(options.port ?? 0, '127.0.0.1', done))
  const { port } = server.address() as AddressInfo
  return {
    url: `http://127.0.0.1:${port}/`,
    marks,
    at(benchS) {
      zeroS = benchS
      zeroMs = Date.now()
      sentS = benchS
    },
    async forward(benchS) {
      forwarding = true
      // Batches as full as the server makes them, of a second each, and a state a minute.
      for (let fromS = nowS(), told = 0; fromS < benchS; fromS += 1, told++) {
        zeroS = fromS
        zeroMs = Date.now()
        const taken = send('samples', batchOf(fromS, fromS + 0.99, 20))
        if (!(told % 60 === 0 ? sendState() && taken : taken))
          await Promise.all([...streams].map((one) => one.writableNeedDrain && once(one, 'drain')))
      }
      zeroS = benchS
      zeroMs = Date.now()
      sentS = benchS
      forwarding = false
    },
    alarms(next) {
      alarms = next
      sendState()
    },
    stall(on) {
      stalled = on
    },
    idle(on) {
      idle = on
      sendState()
    },
    async close() {
      clearInterval(timer)
      server.closeAllConnections()
      await new Promise((done) => server.close(done))
    },
  }
}

const systemText = `stillhold: 1
name: High-wing floatplane, both wings
channels:
  - id: p-left
    measures: gauge-pressure
    section: left-feed
    from: { measurement: logger, field: p1 }
    unit: psi
    range: 0 psi to 30 psi
sections:
  - id: left-feed
    medium: air
    volume: 0.35 L ± 10 %
    max-pressure: 15 psi
holds:
  - id: left-feed-10psi
    sections: [left-feed]
    shut: [V1, V2]
    pressure: 10 psi
    settle: 2 min
    hold: 10 min
    allow: { drop: 0.1 psi }
`

const unitsAsked = (url: URL) => unitsNamed(url.searchParams.get('units') ?? '', unitsOfSystem(standInSystem))
