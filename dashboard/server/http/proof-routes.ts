import type { Archive } from '#dashboard/archive/archive.ts'
import type { AnalysisThread } from '#dashboard/server/session/analysis-thread.ts'
import type { BenchSession } from '#dashboard/server/session/bench-session.ts'
import type { Route } from './guard.ts'
import { readUnits } from './read-request.ts'
import { download } from './record-routes.ts'
import { RequestError } from './request-error.ts'
import { RouteTable } from './routes.ts'

/** What all the records together say: the state of proof, where to look next, the dossier. */
export function proofRoutes(
  session: BenchSession,
  archive: Archive,
  thread: AnalysisThread,
  programVersion: string,
): Route[] {
  const table = new RouteTable()
  const systemNow = () => {
    const { system } = session.systemFile
    if (!system) throw new RequestError(409, 'The system file has errors: correct it on the setup page.')
    return system
  }

  table.get('/api/ledger', async (context) => context.json(await thread.ledger(systemNow(), archive.kept())))
  table.get('/api/hunt', async (context) => {
    const taken_at = new Date().toISOString()
    const system = systemNow()
    const found = await thread.hunt(system, archive.kept(), readUnits(context, system))
    return context.json({ ...found, taken_at })
  })
  table.get('/api/history', async (context) =>
    context.json(await thread.history(systemNow(), archive.kept())),
  )
  table.get('/api/campaign', async (context) =>
    context.json(await thread.campaign(systemNow(), archive.kept(), new Date())),
  )
  table.get('/api/campaign.pdf', async (context) => {
    const pdf = await thread.campaignSheet(systemNow(), archive.kept(), new Date(), programVersion)
    return download(context, pdf, 'application/pdf', 'campaign.pdf')
  })
  table.get('/api/dossier.pdf', async (context) => {
    const pdf = await thread.dossier(
      archive.folder,
      archive.kept(),
      { name: systemNow().name, text: session.systemFile.text },
      programVersion,
    )
    return download(context, pdf, 'application/pdf', 'dossier.pdf')
  })
  return table.routes
}
