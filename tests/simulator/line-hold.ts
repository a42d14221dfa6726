import type { DemoRecording } from './demo-recording.ts'
import { ScriptedSession } from './scripted-session.ts'

export const lines = 'feed-lines-10psi'
export const lineChannels: readonly string[] = ['p-lines', 't-lines', 'baro']

/** A hold of the feed lines with the settle time of the file; `during` tells what happens in its ten minutes. */
export function lineHold(
  leaking: Readonly<Record<string, number>>,
  during: (session: ScriptedSession) => void = (session) => session.wait(600),
): DemoRecording['play'] {
  return (system, seed) => {
    const session = new ScriptedSession({ system, seed, leaking, connected: lineChannels })
    session.wait(20)
    session.pumpUp(lines)
    session.settle(lines, 180)
    session.hold(lines)
    during(session)
    session.vent(lines)
    return session
  }
}
