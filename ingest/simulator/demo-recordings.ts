import type { Verdict } from '#analysis/model/hold-result.ts'
import type { System } from '#analysis/model/system.ts'
import { quietMorning } from './demo-world.ts'
import { seededRandom } from './random.ts'
import { ScriptedSession } from './scripted-session.ts'
import { psiPa } from './units.ts'

/** A recording of the demo scenario: what happened, and what an honest analysis makes of it. */
export interface DemoRecording {
  readonly name: string
  readonly about: string
  readonly seed: number
  readonly hold: string
  /** True leak of the section under test, in multiples of the allowance. */
  readonly leakOverAllowance: number
  readonly verdict: Verdict
  play(system: System, seed: number): ScriptedSession
}

const lines = 'feed-lines-10psi'
const left = 'left-tank-1psi'
const lineChannels = ['p-lines', 't-lines', 'baro']
const tankChannels = ['p-left', 't-left', 'baro']

/** A line hold with the gauge at fault from a moment counted from the start of the hold. */
function lineHold(
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

export const demoRecordings: readonly DemoRecording[] = [
  {
    name: 'lines-leak',
    about: 'The right selector inlet leaks three allowances; soap finds it before the vent.',
    seed: 1,
    hold: lines,
    leakOverAllowance: 3,
    verdict: 'fail',
    play: lineHold({ F12: 3 }, (session) => {
      session.wait(600)
      for (const fitting of ['F11', 'F12', 'F13']) session.look(fitting)
    }),
  },
  {
    name: 'lines-retest',
    about: 'The same lines after the flare was retightened: tight.',
    seed: 1,
    hold: lines,
    leakOverAllowance: 0,
    verdict: 'pass',
    play: (system, seed) => {
      const session = new ScriptedSession({ system, seed, leaking: { F12: 3 }, connected: lineChannels })
      session.wait(10)
      session.work('F12', 'retighten', 13.6)
      session.wait(10)
      session.whole(lines)
      return session
    },
  },
  {
    name: 'lines-at-the-limit',
    about: 'A leak of just the allowance: no hold of this length can tell.',
    seed: 3,
    hold: lines,
    leakOverAllowance: 1,
    verdict: 'undecided',
    play: lineHold({ F12: 1 }),
  },
  {
    name: 'lines-no-stage-marks',
    about: 'A tight hold of which nobody marked the stages: they are found from the pressure.',
    seed: 4,
    hold: lines,
    leakOverAllowance: 0,
    verdict: 'pass',
    play: (system, seed) => {
      const session = new ScriptedSession({
        system,
        seed,
        leaking: {},
        connected: lineChannels,
        stageMarks: false,
      })
      session.wait(20)
      session.whole(lines)
      return session
    },
  },
  {
    name: 'lines-early-start',
    about:
      'Leaks two allowances, and the hold began 20 s after pump-up: heat must not be taken for the leak.',
    seed: 5,
    hold: lines,
    leakOverAllowance: 2,
    verdict: 'fail',
    play: (system, seed) => {
      const session = new ScriptedSession({ system, seed, leaking: { F16: 2 }, connected: lineChannels })
      session.wait(20)
      session.pumpUp(lines)
      session.settle(lines, 20)
      session.hold(lines)
      session.wait(600)
      session.vent(lines)
      return session
    },
  },
  {
    name: 'tank-sun',
    about: 'A tight left tank while the sun comes onto the wing: the needle rises, the tank holds.',
    seed: 6,
    hold: left,
    leakOverAllowance: 0,
    verdict: 'pass',
    play: (system, seed) => {
      const weather = { ...quietMorning(seededRandom(seed, 51)), sunK: 3, sunAtS: 1500, sunTauS: 600 }
      const session = new ScriptedSession({ system, seed, weather, leaking: {}, connected: tankChannels })
      session.wait(30)
      session.pumpUp(left)
      session.settle(left, 900)
      session.hold(left)
      session.wait(230)
      session.note('sun on the left wing')
      session.wait(970)
      session.vent(left, 60)
      return session
    },
  },
  {
    name: 'valve-passing',
    about:
      'Two sections under test at different pressures; the firewall shut-off between them lets gas pass.',
    seed: 7,
    hold: 'lines-and-forward-10psi',
    leakOverAllowance: 0,
    verdict: 'fail',
    play: (system, seed) => {
      const hold = 'lines-and-forward-10psi'
      const session = new ScriptedSession({
        system,
        seed,
        leaking: {},
        connected: ['p-lines', 'p-forward', 't-lines', 't-forward', 'baro'],
      })
      session.wait(20)
      session.bench.world.setPassing('V3', 4e-16)
      session.pumpUp(hold)
      // The forward section is let down to about 9 psi, so that the valve between has something to pass.
      session.settle(hold, 0)
      session.bench.world.vent('firewall-forward', 45)
      session.wait(6)
      session.bench.world.closeVent('firewall-forward')
      session.wait(174)
      session.hold(hold)
      session.wait(600)
      session.vent(hold)
      return session
    },
  },
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
