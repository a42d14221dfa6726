import { Hono } from 'hono'
import type { BenchSession } from './bench-session.ts'
import type { Env } from './guard.ts'
import { readBody, systemBody } from './read-body.ts'

/** The system file and what can be reckoned from it before a hold. */
export function systemRoutes(session: BenchSession): Hono<Env> {
  const app = new Hono<Env>()
  app.get('/api/system', (context) => context.json(session.systemFile.reading()))
  app.put('/api/system', async (context) => {
    const { text } = await readBody(context, systemBody)
    return context.json(session.changeSystem(text))
  })
  return app
}
