import { Hono } from 'hono'
import type { LiveState } from '#dashboard/api.ts'
import type { BenchSession } from '#dashboard/server/session/bench-session.ts'
import { streamRoute } from '#dashboard/server/stream/stream-route.ts'
import type { Env } from './guard.ts'
import { lostBody, markBody, portBody, readBody, stageBody, startHoldBody } from './read-body.ts'
import { readNumber } from './read-query.ts'

/** Watching and driving the running session. */
export function liveRoutes(session: BenchSession): Hono<Env> {
  const app = new Hono<Env>()
  const stateFor = (role: LiveState['role']): LiveState => ({ ...session.state(), role })

  app.get('/api/state', (context) => context.json(stateFor(context.get('role'))))
  app.get('/api/stream', streamRoute({ ring: session.ring, state: () => session.state() }))
  app.get('/api/live', (context) => {
    const fromS = readNumber(context, 'from', Number.NEGATIVE_INFINITY)
    const points = readNumber(context, 'points', 1000, 1, 20_000)
    return context.json(session.columns(fromS, points))
  })
  app.get('/api/live/compensated', (context) => context.json(session.compensated()))
  app.get('/api/fields', (context) => context.json(session.fields()))
  app.get('/api/ports', (context) => context.json(session.ports()))

  app.post('/api/hold/start', async (context) => {
    await session.startHold(await readBody(context, startHoldBody))
    return context.json(stateFor(context.get('role')))
  })
  app.post('/api/hold/stage', async (context) => {
    const { stage, reason } = await readBody(context, stageBody)
    await session.enterStage(stage, reason)
    return context.json(stateFor(context.get('role')))
  })
  app.post('/api/hold/lost', async (context) => {
    session.conductor.answerLost((await readBody(context, lostBody)).answer)
    return context.json(stateFor(context.get('role')))
  })
  app.post('/api/mark', async (context) => {
    await session.mark(await readBody(context, markBody))
    return context.json(stateFor(context.get('role')))
  })
  app.post('/api/ports/confirm', async (context) => {
    const { name } = await readBody(context, portBody)
    session.confirmDialect(name)
    return context.json(session.ports())
  })
  return app
}
