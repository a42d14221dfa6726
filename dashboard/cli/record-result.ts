import type { Forwarder } from '#ingest/forward/forwarder.ts'
import type { RecordSession } from './record-session.ts'

/** What a finished recording holds: one line of JSON, or lines for people. */
export function recordResult(
  out: string,
  session: RecordSession,
  forwarder: Forwarder | null,
  json: boolean,
): string {
  const states = session.states()
  const sum = (of: (state: (typeof states)[number]) => number) =>
    states.reduce((all, each) => all + of(each), 0)
  const result = {
    stillhold: 1,
    recording: out,
    points: session.points,
    marks: session.marks,
    rejected: sum(({ rejected }) => rejected),
    missing: sum(({ missing }) => missing),
    resets: sum(({ resets }) => resets),
    forwarded: forwarder?.state() ?? null,
  }
  if (json) return `${JSON.stringify(result)}\n`
  const { points, marks, rejected, missing, resets, forwarded } = result
  const recorded = `${out}: ${points} points, ${marks} marks, ${rejected} rejected, ${missing} missing, ${resets} resets\n`
  if (forwarded === null) return recorded
  const { sent, waiting, lost, refused } = forwarded
  return `${recorded}forwarded: ${sent} sent, ${waiting} waiting, ${lost} lost, ${refused} refused\n`
}
