import type { GenericSchema, InferOutput } from 'valibot'
import type { BenchSession } from '#dashboard/server/session/bench-session.ts'
import type { DemoOperator } from '#dashboard/server/session/demo-operator.ts'
import { streamRoute } from '#dashboard/server/stream/stream-route.ts'
import {
  demoBody,
  lostBody,
  markBody,
  portBody,
  portFixBody,
  stageBody,
  startHoldBody,
  typedBody,
} from './bodies.ts'
import { photoBody, readNumber, readUnits } from './read-request.ts'
import type { RouteTable } from './routes.ts'

/** Largest photo from a phone, as text, [bytes]. */
const photoBytes = 8 * 1024 * 1024

/** Routes that watch and drive the running session. @param demo who drives the demo bench; null on a real one */
export function liveRoutes(table: RouteTable, session: BenchSession, demo: DemoOperator | null): void {
  /** An operator's action; the answer is the resulting state. */
  const act = <S extends GenericSchema>(
    path: string,
    shape: S,
    does: (body: InferOutput<S>, maker: 'operator' | 'device') => unknown,
    bodyBytes?: number,
  ) =>
    table.post(
      path,
      shape,
      async (body, context) => {
        await does(body, context.get('maker'))
        return { ...session.state(), role: context.get('role') }
      },
      bodyBytes,
    )

  table.get('/api/state', (context) => ({ ...session.state(), role: context.get('role') }))
  table.get('/api/stream', streamRoute({ ring: session.ring, state: () => session.state() }))
  table.get('/api/live', (context) =>
    session.core.channels.minMax(
      readNumber(context, 'from', Number.NEGATIVE_INFINITY),
      readNumber(context, 'points', 1000, 1, 20_000),
    ),
  )
  table.get('/api/live/compensated', () => session.controller.curves())
  table.get('/api/fields', () =>
    session.core.fields().map((one) => ({ ...one, unit: session.ports.unitOf({ from: one }) ?? undefined })),
  )
  table.get('/api/ports', () => session.ports.list())
  table.get('/api/hold/checks', (context) => {
    const hold = context.req.query('hold') ?? ''
    return session.checks(hold, readUnits(context, session.systemFile.system, hold))
  })

  act('/api/hold/start', startHoldBody, (order, maker) => session.startHold(order, maker))
  act('/api/hold/stage', stageBody, ({ stage, reason }, maker) => session.enterStage(stage, reason, maker))
  act('/api/hold/lost', lostBody, ({ answer }) => session.controller.answerLost(answer))
  act(
    '/api/hold/photo',
    photoBody,
    ({ fitting, base64: bytes }) => session.controller.photo(fitting, bytes),
    photoBytes,
  )
  act('/api/mark', markBody, (mark, maker) => session.mark(mark, maker))
  act('/api/typed', typedBody, ({ readings }) => session.typed(readings))
  table.post('/api/ports/confirm', portBody, ({ name }) => session.ports.confirm(name))
  table.post('/api/ports/fix', portFixBody, ({ name, ...setting }) => session.ports.fix(name, setting))
  if (demo)
    act('/api/demo', demoBody, ({ operator }) => (operator === 'automatic' ? demo.start() : demo.handOver()))
}
