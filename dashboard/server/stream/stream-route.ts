import type { Context } from 'hono'
import { type SSEStreamingApi, streamSSE } from 'hono/streaming'
import type { LiveState } from '#dashboard/api.ts'
import type { Env } from '#dashboard/server/http/guard.ts'
import type { Role } from '#dashboard/server/http/sharing.ts'
import type { EventRing } from './event-ring.ts'

/** A watcher that reads nothing for this long is dropped, [ms]. It may reconnect and resume. */
const stalledAfterMs = 15_000

/** Maximum open streams of one address, and of all together: a page has one, and a hangar has few pages. */
const perAddress = 16
const watchersAtMost = 100

/** Reconnection delay sent to the page, [ms]. */
const retryMs = 1000

export interface StreamOptions {
  readonly ring: EventRing
  /** The present state, without the watcher's role. */
  readonly state: () => Omit<LiveState, 'role'>
  readonly stalledAfterMs?: number
}

/**
 * The live stream. It begins with the present state or, when the browser sends the id of the last event
 * it received, with the event after that one, so that nothing is missed or repeated.
 */
export function streamRoute({ ring, state, stalledAfterMs: patienceMs = stalledAfterMs }: StreamOptions) {
  /** Open streams, oldest first. */
  const watchers = new Set<{ readonly address: string; readonly drop: () => void }>()

  /** The oldest stream of an address with too many is closed: a dropped page reconnects and resumes. */
  function makeRoom(address: string): void {
    const same = [...watchers].filter((watcher) => watcher.address === address)
    if (same.length >= perAddress) same[0]?.drop()
  }

  return (context: Context<Env>): Response | Promise<Response> => {
    const address = context.env.incoming.socket.remoteAddress ?? ''
    makeRoom(address)
    if (watchers.size >= watchersAtMost)
      return context.json({ error: `There are ${watchersAtMost} pages open already: close one.` }, 503)
    const role = context.get('role')
    const lastEventId = context.req.header('last-event-id')
    const socket = context.env.outgoing
    const watcher = {
      address,
      drop: () => {
        watchers.delete(watcher)
        socket.destroy()
      },
    }
    watchers.add(watcher)
    return streamSSE(context, async (stream) => {
      stream.onAbort(() => ring.wake())
      const write = async (event: string, data: string, id: string | undefined, retry?: number) => {
        const timer = setTimeout(() => socket.destroy(), patienceMs)
        await stream.writeSSE({ event, data, id, retry })
        clearTimeout(timer)
      }
      try {
        await follow(stream, write, ring, lastEventId, role, state)
      } finally {
        watchers.delete(watcher)
      }
    })
  }
}

async function follow(
  stream: SSEStreamingApi,
  write: (event: string, data: string, id: string | undefined, retry?: number) => Promise<void>,
  ring: EventRing,
  lastEventId: string | undefined,
  role: Role,
  state: StreamOptions['state'],
): Promise<void> {
  let position = lastEventId === undefined ? null : ring.positionAfter(lastEventId)
  if (position === null) {
    position = ring.end
    // Both carry the id of the ring's position, so that a connection lost here still resumes without a gap.
    const id = ring.resumeId(position)
    const now = JSON.stringify({ ...state(), role })
    if (lastEventId !== undefined) await write('restart', '{}', id)
    await write('state', now, id, retryMs)
  }
  while (!stream.aborted && !stream.closed && !ring.closed) {
    const event = ring.at(position)
    if (event === 'gone') return
    if (event === null) {
      await ring.reached(position, () => stream.aborted)
      continue
    }
    position++
    await write(event.name, event.name === 'state' ? withRole(event.data, role) : event.data, event.id)
  }
}

/** The state is serialized once for all watchers; only the role differs. */
function withRole(state: string, role: Role): string {
  return `${state.slice(0, -1)},"role":"${role}"}`
}
