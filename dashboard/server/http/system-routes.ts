import * as v from 'valibot'
import type { Plan } from '#analysis/plan/plan-hold.ts'
import type { FirstFile } from '#dashboard/api.ts'
import { type AnalysisThread, AnswerCache } from '#dashboard/server/session/analysis-thread.ts'
import type { BenchSession } from '#dashboard/server/session/bench-session.ts'
import {
  editedLists,
  editSystemFile,
  type SystemEdit,
  writtenParts,
} from '#ingest/system-file/edit-system-file.ts'
import { firstSystemFile, type Instruments, instruments, layouts } from '#ingest/system-file/layouts.ts'
import { systemSchema } from '#ingest/system-file/read-system-file.ts'
import { planBody, systemBody, words } from './bodies.ts'
import { readUnits } from './read-request.ts'
import { RequestError } from './request-error.ts'
import type { RouteTable } from './routes.ts'

const scalar = v.union([words, v.pipe(v.number(), v.finite())])
const row = v.pipe(v.array(v.union([scalar, v.array(scalar)])), v.maxLength(500, 'is too long'))
const key = v.pipe(v.string(), v.regex(/^[A-Za-z][\w-]{0,39}$/, 'is no key'))
const value = v.union([scalar, row, v.record(key, v.union([scalar, row, v.record(key, scalar)]))])
const editBody = v.strictObject({
  list: v.nullable(v.picklist(editedLists)),
  id: v.nullable(words),
  keys: v.nullable(v.record(key, v.nullable(value))),
}) satisfies v.GenericSchema<unknown, SystemEdit>
const editsBody = v.strictObject({ edits: v.pipe(v.array(editBody), v.maxLength(50, 'is too long')) })

/** The system file and what can be computed from it before a hold, on `thread`, apart from the analysis of holds. */
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
  table.get('/api/system/parts', () => ({
    parts: writtenParts(session.systemFile.text),
    schema: systemSchema,
  }))
  table.put('/api/system', systemBody, ({ text }) => session.changeSystem(text))
  table.put('/api/system/edits', editsBody, ({ edits }) =>
    session.changeSystem(
      edits.reduce((before, edit) => {
        const after = editSystemFile(before, edit)
        if (after !== null) return after
        throw new RequestError(404, `The system file has no ${edit.id} among its ${edit.list}.`)
      }, session.systemFile.text),
    ),
  )
  table.post('/api/plan', planBody, ({ hold }, context) => {
    const system = session.systemFile.system
    if (!system.holds.some(({ id }) => id === hold))
      throw new RequestError(404, `The system file has no hold ${hold}: choose one of its holds.`)
    const units = readUnits(context, system, hold)
    // A changed system file is another system: cached plans of the old one are useless.
    const key = JSON.stringify([session.systemFile.changes, hold, units])
    return plans.of(key, () => thread.ask('plan', system, hold, units))
  })
}
