import type { Context } from 'hono'
import type { Workshop } from '#dashboard/server/workshop.ts'
import type { Env } from './guard.ts'
import { escapeHtml, plainPage } from './plain-page.ts'
import { RequestError } from './request-error.ts'
import type { RouteTable } from './routes.ts'

/** Lists the aircraft of the workshop and selects one for the bench. The page needs no script. */
export function aircraftRoutes(table: RouteTable, workshop: Workshop): void {
  const page = (context: Context<Env>, problem: string | null, status: 200 | 409 = 200) =>
    context.html(
      plainPage('Aircraft', problem, choices(workshop, context.get('role') === 'operator')),
      status,
    )
  table.get('/aircraft', (context) => page(context, null))
  table.form('/aircraft', async (context) => {
    const { id } = await context.req.parseBody()
    try {
      await workshop.choose(String(id))
    } catch (error) {
      if (error instanceof RequestError) return page(context, error.message, 409)
      throw error
    }
    return context.redirect('/', 303)
  })
}

function choices(workshop: Workshop, mayChoose: boolean): string {
  const all = workshop.list().map(({ id, name, fault, isChosen }) => {
    const about = `<strong>${escapeHtml(name)}</strong> (${escapeHtml(id)})`
    if (isChosen) return `<p>${about}: at the bench now. <a href="/">Open</a></p>`
    if (fault !== null) return `<p>${about}: ${escapeHtml(fault)}. Correct the file first.</p>`
    const label = `Bring ${escapeHtml(name)} (${escapeHtml(id)}) to the bench`
    return mayChoose
      ? `<form method="post" action="/aircraft"><input type="hidden" name="id" value="${escapeHtml(id)}"><button>${label}</button></form>`
      : `<p>${about}</p>`
  })
  return `<p>The gauge is on one aircraft at a time: move it first, then choose here. Each aircraft has its own archive.</p>\n${all.join('\n')}`
}
