import type { LiveState } from '#dashboard/api.ts'
import type { BenchSession } from '#dashboard/server/session/bench-session.ts'
import type { DemoOperator } from '#dashboard/server/session/demo-operator.ts'
import { isPicture } from '#dashboard/server/session/wet-photos.ts'
import { streamRoute } from '#dashboard/server/stream/stream-route.ts'
import type { Route } from './guard.ts'
import {
  demoBody,
  lostBody,
  markBody,
  photoBody,
  portBody,
  portFixBody,
  readBody,
  readNumber,
  readUnits,
  stageBody,
  startHoldBody,
  typedBody,
} from './read-request.ts'
import { RequestError } from './request-error.ts'
import { RouteTable } from './routes.ts'

/** A photo as a phone sends it, in text, [bytes]. */
const photoBytes = 8 * 1024 * 1024

/** Watching and driving the running session. */
export function liveRoutes(session: BenchSession): Route[] {
  const table = new RouteTable()
  const stateFor = (role: LiveState['role']): LiveState => ({ ...session.state(), role })

  table.get('/api/state', (context) => context.json(stateFor(context.get('role'))))
  table.get('/api/stream', streamRoute({ ring: session.ring, state: () => session.state() }))
  table.get('/api/live', (context) => {
    const fromS = readNumber(context, 'from', Number.NEGATIVE_INFINITY)
    const points = readNumber(context, 'points', 1000, 1, 20_000)
    return context.json(session.columns(fromS, points))
  })
  table.get('/api/live/compensated', (context) => context.json(session.compensated()))
  table.get('/api/fields', (context) => context.json(session.fields()))
  table.get('/api/ports', (context) => context.json(session.ports()))

  table.get('/api/hold/checks', (context) => {
    const { system } = session.systemFile
    const hold = context.req.query('hold') ?? ''
    return context.json(session.checks(hold, system ? readUnits(context, system, hold) : undefined))
  })

  table.post('/api/hold/start', async (context) => {
    await session.startHold(await readBody(context, startHoldBody), context.get('maker'))
    return context.json(stateFor(context.get('role')))
  })
  table.post('/api/hold/stage', async (context) => {
    const { stage, reason } = await readBody(context, stageBody)
    await session.enterStage(stage, reason, context.get('maker'))
    return context.json(stateFor(context.get('role')))
  })
  table.post('/api/hold/lost', async (context) => {
    session.controller.answerLost((await readBody(context, lostBody)).answer)
    return context.json(stateFor(context.get('role')))
  })
  table.post(
    '/api/hold/photo',
    async (context) => {
      const { fitting, base64 } = await readBody(context, photoBody)
      const bytes = Buffer.from(base64, 'base64')
      if (!isPicture(bytes)) throw new RequestError(422, 'This is no JPEG, PNG, WebP or HEIC picture.')
      session.controller.photo(fitting, bytes)
      return context.json(stateFor(context.get('role')))
    },
    photoBytes,
  )
  table.post('/api/mark', async (context) => {
    await session.mark(await readBody(context, markBody), context.get('maker'))
    return context.json(stateFor(context.get('role')))
  })
  table.post('/api/typed', async (context) => {
    session.typed((await readBody(context, typedBody)).readings)
    return context.json(stateFor(context.get('role')))
  })
  table.post('/api/ports/confirm', async (context) => {
    const { name } = await readBody(context, portBody)
    session.confirmDialect(name)
    return context.json(session.ports())
  })
  table.post('/api/ports/fix', async (context) => {
    const { name, ...setting } = await readBody(context, portFixBody)
    session.fixPort(name, setting)
    return context.json(session.ports())
  })
  return table.routes
}

/** Who drives the demo bench. */
export function demoRoutes(session: BenchSession, operator: DemoOperator): Route[] {
  const table = new RouteTable()
  table.post('/api/demo', async (context) => {
    const { operator: who } = await readBody(context, demoBody)
    if (who === 'automatic') operator.start()
    else await operator.handOver()
    return context.json({ ...session.state(), role: context.get('role') })
  })
  return table.routes
}
