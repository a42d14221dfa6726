import * as v from 'valibot'
import type { FirstFile } from '#dashboard/api.ts'
import type { AnalysisThread } from '#dashboard/server/session/analysis-thread.ts'
import type { BenchSession } from '#dashboard/server/session/bench-session.ts'
import { PlanCache } from '#dashboard/server/session/plan-cache.ts'
import { calibrateChannel, type WrittenCalibration } from '#ingest/recording/calibrate-channel.ts'
import { firstSystemFile, type Instruments, instruments, layouts } from '#ingest/system-file/layouts.ts'
import type { Route } from './guard.ts'
import { planBody, readBody, readUnits, systemBody } from './read-request.ts'
import { RequestError } from './request-error.ts'
import { RouteTable } from './routes.ts'

const quantity = v.pipe(
  v.string(),
  v.trim(),
  v.regex(/^-?\d+(\.\d+)? [\p{L}\p{N}%/·°]{1,12}$/u, 'is no number with a unit, such as 10.02 psi'),
)
const isoDate = v.pipe(v.string(), v.regex(/^\d{4}-\d\d-\d\d$/, 'is no date such as 2026-03-02'))
const calibrationBody = v.strictObject({
  channel: v.pipe(v.string(), v.maxLength(100)),
  date: isoDate,
  due: v.optional(v.nullable(isoDate), null),
  points: v.pipe(
    v.array(v.tuple([quantity, quantity])),
    v.minLength(1, 'has no [true, read] pair'),
    v.maxLength(50, 'has more than 50 pairs'),
  ),
}) satisfies v.GenericSchema<unknown, WrittenCalibration>

/** The system file and what can be reckoned from it before a hold, on `thread`, beside the one that looks at holds. */
export function systemRoutes(session: BenchSession, thread: AnalysisThread): Route[] {
  const table = new RouteTable()
  const plans = new PlanCache(thread)
  table.get('/api/system', (context) => context.json(session.systemFile.reading()))
  table.get('/api/layouts', (context) =>
    context.json(
      layouts.flatMap((layout) =>
        (Object.keys(instruments) as Instruments[]).map((kit): FirstFile => {
          const text = firstSystemFile(layout, session.systemFile.system?.name ?? layout.about, kit)
          return { layout: layout.id, about: layout.about, instruments: kit, with: instruments[kit], text }
        }),
      ),
    ),
  )
  table.put('/api/system', async (context) => {
    const { text } = await readBody(context, systemBody)
    return context.json(session.changeSystem(text))
  })
  table.put('/api/system/calibration', async (context) => {
    const asked = await readBody(context, calibrationBody)
    const of = session.systemFile.system?.channels.find(({ id }) => id === asked.channel)
    // A gauge that is moved stands in the file once, whichever place the page shows it at.
    const calibration = { ...asked, channel: of?.movable?.id ?? asked.channel }
    const text = calibrateChannel(session.systemFile.text, calibration)
    if (text === null) {
      throw new RequestError(
        404,
        `The system file has no channel ${calibration.channel}: choose one of its channels.`,
      )
    }
    return context.json(session.changeSystem(text))
  })
  table.post('/api/plan', async (context) => {
    const { hold } = await readBody(context, planBody)
    const { system } = session.systemFile
    if (!system) throw new RequestError(409, 'The system file has errors: correct it on the setup page.')
    const plan = await plans.of(system, hold, readUnits(context, system, hold))
    if (plan === null)
      throw new RequestError(404, `The system file has no hold ${hold}: choose one of its holds.`)
    return context.json(plan)
  })
  return table.routes
}
