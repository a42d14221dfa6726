import { Hono } from 'hono'
import { planHold } from '#analysis/hold/plan-hold.ts'
import type { BenchSession } from './bench-session.ts'
import type { Env } from './guard.ts'
import { planBody, readBody, systemBody } from './read-body.ts'
import { RequestError } from './request-error.ts'

/** The system file and what can be reckoned from it before a hold. */
export function systemRoutes(session: BenchSession): Hono<Env> {
  const app = new Hono<Env>()
  app.get('/api/system', (context) => context.json(session.systemFile.reading()))
  app.put('/api/system', async (context) => {
    const { text } = await readBody(context, systemBody)
    return context.json(session.changeSystem(text))
  })
  app.post('/api/plan', async (context) => {
    const { hold } = await readBody(context, planBody)
    const { system } = session.systemFile
    if (!system) throw new RequestError(409, 'The system file has errors: correct it on the setup page.')
    const plan = planHold(system, hold)
    if (plan === null)
      throw new RequestError(404, `The system file has no hold ${hold}: choose one of its holds.`)
    return context.json(plan)
  })
  return app
}
