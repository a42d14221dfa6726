import { Hono } from 'hono'
import type { BenchSession } from '#dashboard/server/session/bench-session.ts'
import type { DemoOperator } from '#dashboard/server/session/demo-operator.ts'
import type { Env } from './guard.ts'
import { demoBody, readBody } from './read-body.ts'

/** Who drives the demo bench. */
export function demoRoutes(session: BenchSession, operator: DemoOperator): Hono<Env> {
  const app = new Hono<Env>()
  app.post('/api/demo', async (context) => {
    const { operator: who } = await readBody(context, demoBody)
    if (who === 'automatic') operator.start()
    else await operator.handOver()
    return context.json({ ...session.state(), role: context.get('role') })
  })
  return app
}
