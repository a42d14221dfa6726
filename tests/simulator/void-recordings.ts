import type { DemoRecording } from './demo-recording.ts'
import { lineChannels, lineHold, lines } from './line-hold.ts'
import { ScriptedSession } from './scripted-session.ts'
import { psiPa } from './units.ts'

/** Line sessions run 20 s at rest, 45 s of pump-up and 180 s of settle before the hold. */
const lineHoldStartS = 245

function faultyGauge(
  kind: 'stuck' | 'unplugged' | 'shut-off',
  fromS: number,
  leak: number,
): DemoRecording['play'] {
  return (system, seed) => {
    const session = new ScriptedSession({
      system,
      seed,
      leaking: { F12: leak },
      connected: lineChannels,
      faults: [{ channel: 'p-lines', kind, fromS: lineHoldStartS + fromS }],
    })
    session.wait(20)
    session.whole(lines)
    return session
  }
}

/** Sessions whose data prove nothing, each for its own reason. */
export const voidRecordings: readonly DemoRecording[] = [
  {
    name: 'void-stuck',
    about: 'The gauge repeats one number from the settle on; the lines leak two allowances behind it.',
    seed: 8,
    hold: lines,
    leakOverAllowance: 2,
    verdict: 'void',
    play: faultyGauge('stuck', -60, 2),
  },
  {
    name: 'void-shut-off',
    about:
      'The gauge cock was closed before the hold: noise as ever, but it reads trapped gas, even through the vent.',
    seed: 9,
    hold: lines,
    leakOverAllowance: 2,
    verdict: 'void',
    play: faultyGauge('shut-off', -30, 2),
  },
  {
    name: 'void-cock-shut',
    about:
      'The gauge cock was closed in the settle and opened for the vent, and the lines leak four allowances: the known leak at the end does not show.',
    seed: 20,
    hold: lines,
    leakOverAllowance: 4,
    verdict: 'void',
    play: (system, seed) => {
      const endS = lineHoldStartS + 600
      const session = new ScriptedSession({
        system,
        seed,
        leaking: { F12: 4 },
        connected: lineChannels,
        faults: [{ channel: 'p-lines', kind: 'shut-off', fromS: lineHoldStartS - 60, toS: endS + 140 }],
      })
      session.wait(20)
      session.pumpUp(lines)
      session.settle(lines, 180)
      session.hold(lines)
      session.wait(600)
      session.check('K1', 120)
      session.vent(lines)
      return session
    },
  },
  {
    name: 'void-unplugged',
    about: "The transducer's plug came out four minutes into the hold.",
    seed: 10,
    hold: lines,
    leakOverAllowance: 0,
    verdict: 'void',
    play: faultyGauge('unplugged', 240, 0),
  },
  {
    name: 'void-clipped',
    about: 'The rig was pumped beyond the span of its gauge.',
    seed: 11,
    hold: 'rig-10psi',
    leakOverAllowance: 0,
    verdict: 'void',
    play: (system, seed) => {
      const session = new ScriptedSession({
        system,
        seed,
        leaking: {},
        connected: ['p-rig', 't-rig', 'baro'],
      })
      session.wait(20)
      session.pumpUp('rig-10psi')
      session.bench.world.pumpUp('rig', 17 * psiPa, 10)
      session.wait(40)
      session.settle('rig-10psi', 120)
      session.hold('rig-10psi')
      session.wait(300)
      session.vent('rig-10psi')
      return session
    },
  },
  {
    name: 'void-clock-jump',
    about: "The logger's clock was set three minutes ahead in the middle of the hold.",
    seed: 12,
    hold: lines,
    leakOverAllowance: 0,
    verdict: 'void',
    play: lineHold({}, (session) => {
      session.wait(280)
      session.bench.clockAheadS += 180
      session.wait(320)
    }),
  },
  {
    name: 'void-gap',
    about: 'The logger was silent for five of the ten minutes.',
    seed: 13,
    hold: lines,
    leakOverAllowance: 0,
    verdict: 'void',
    play: lineHold({}, (session) => {
      session.wait(270)
      session.bench.muted = true
      session.wait(300)
      session.bench.muted = false
      session.wait(30)
    }),
  },
  {
    name: 'void-work',
    about: 'Someone retightened the leaking flare during the hold.',
    seed: 14,
    hold: lines,
    leakOverAllowance: 3,
    verdict: 'void',
    play: lineHold({ F12: 3 }, (session) => {
      session.wait(200)
      session.work('F12', 'retighten', 13.6)
      session.wait(400)
    }),
  },
  {
    name: 'void-pressure-rose',
    about: 'The shut valve of the bottle let gas in: the pressure rose though nothing grew warmer.',
    seed: 15,
    hold: lines,
    leakOverAllowance: 1.5,
    verdict: 'void',
    play: (system, seed) => {
      const session = new ScriptedSession({ system, seed, leaking: { F12: 1.5 }, connected: lineChannels })
      session.wait(20)
      session.bench.world.seepIn('feed-lines', 1.5e-6)
      session.whole(lines)
      return session
    },
  },
  {
    name: 'void-regulator-left-on',
    about: 'The pump with its regulator stayed connected: it kept the pressure that the leak took.',
    seed: 16,
    hold: lines,
    leakOverAllowance: 2,
    verdict: 'void',
    play: (system, seed) => {
      const session = new ScriptedSession({ system, seed, leaking: { F12: 2 }, connected: lineChannels })
      session.wait(20)
      session.pumpUp(lines)
      session.settle(lines, 0)
      session.bench.world.pumpUp('feed-lines', 10.6 * psiPa, 1)
      session.wait(180)
      session.hold(lines)
      session.bench.world.pumpUp('feed-lines', 10.6 * psiPa, 1)
      session.wait(600)
      session.vent(lines)
      return session
    },
  },
]
