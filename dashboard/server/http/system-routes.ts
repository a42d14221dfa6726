import * as v from 'valibot'
import type { Plan } from '#analysis/model/plan.ts'
import type { FirstFile } from '#dashboard/api.ts'
import { type AnalysisThread, AnswerCache } from '#dashboard/server/session/analysis-thread.ts'
import type { BenchSession } from '#dashboard/server/session/bench-session.ts'
import { calibrateChannel, type WrittenCalibration } from '#ingest/recording/calibrate-channel.ts'
import { firstSystemFile, type Instruments, instruments, layouts } from '#ingest/system-file/layouts.ts'
import { planBody, systemBody } from './bodies.ts'
import { readUnits } from './read-request.ts'
import { RequestError } from './request-error.ts'
import type { RouteTable } from './routes.ts'

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
export function systemRoutes(table: RouteTable, session: BenchSession, thread: AnalysisThread): void {
  const plans = new AnswerCache<Plan | null>(50)
  table.get('/api/system', () => session.systemFile.reading())
  table.get('/api/layouts', () =>
    layouts.flatMap((layout) =>
      (Object.keys(instruments) as Instruments[]).map((kit): FirstFile => {
        const text = firstSystemFile(layout, session.systemFile.system.name, kit)
        return { layout: layout.id, about: layout.about, instruments: kit, with: instruments[kit], text }
      }),
    ),
  )
  table.put('/api/system', systemBody, ({ text }) => session.changeSystem(text))
  table.put('/api/system/calibration', calibrationBody, (asked) => {
    const of = session.systemFile.system.channels.find(({ id }) => id === asked.channel)
    // A gauge that is moved stands in the file once, whichever place the page shows it at.
    const channel = of?.movable?.id ?? asked.channel
    const text = calibrateChannel(session.systemFile.text, { ...asked, channel })
    if (text === null)
      throw new RequestError(404, `The system file has no channel ${channel}: choose one of its channels.`)
    return session.changeSystem(text)
  })
  table.post('/api/plan', planBody, ({ hold }, context) => {
    const system = session.systemFile.system
    if (!system.holds.some(({ id }) => id === hold))
      throw new RequestError(404, `The system file has no hold ${hold}: choose one of its holds.`)
    const units = readUnits(context, system, hold)
    // A changed system file is another system: the plans of the old one are not asked for again.
    const key = JSON.stringify([session.systemFile.changes, hold, units])
    return plans.of(key, () => thread.ask('plan', system, hold, units))
  })
}
