import type { BenchSession } from '#dashboard/server/session/bench-session.ts'
import type { DemoOperator } from '#dashboard/server/session/demo-operator.ts'
import type { Route } from './guard.ts'
import { demoBody, readBody } from './read-request.ts'
import { RouteTable } from './routes.ts'

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
