import { quietMorning } from '#ingest/simulator/demo-world.ts'
import { seededRandom } from '#ingest/simulator/random.ts'
import type { DemoRecording } from './demo-recording.ts'
import { lineChannels, lineHold, lines } from './line-hold.ts'
import { ScriptedSession, sessionStartNs } from './scripted-session.ts'
import { voidRecordings } from './void-recordings.ts'

const left = 'left-tank-1psi'
/** When the leaking flare has been vented, found and retightened. */
const afterTheWorkNs = sessionStartNs + 3600n * 1_000_000_000n
const tankChannels = ['p-left', 't-left', 'baro']

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
    about: 'The same lines an hour later, the flare vented and retightened: tight.',
    seed: 1,
    hold: lines,
    leakOverAllowance: 0,
    verdict: 'pass',
    play: (system, seed) => {
      const session = new ScriptedSession({
        system,
        seed,
        leaking: { F12: 3 },
        connected: lineChannels,
        startNs: afterTheWorkNs,
      })
      session.wait(10)
      session.work('F12', 'retighten', 13.6)
      session.wait(10)
      session.whole(lines)
      return session
    },
  },
  {
    name: 'lines-proven',
    about:
      'A tight hold that proves its bench: hose off, and the known leak opened for two minutes at its end.',
    seed: 19,
    hold: lines,
    leakOverAllowance: 0,
    verdict: 'pass',
    play: (system, seed) => {
      const session = new ScriptedSession({ system, seed, leaking: {}, connected: lineChannels })
      session.wait(20)
      session.pumpUp(lines)
      session.supplyOff()
      session.settle(lines, 180)
      session.hold(lines)
      session.wait(600)
      session.check('K1', 120)
      session.vent(lines)
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
      const morning = quietMorning(seededRandom(seed, 51))
      const sunK = (timeS: number) => (timeS > 1500 ? 3 * -Math.expm1(-(timeS - 1500) / 600) : 0)
      const weather = (timeS: number) => ({ ...morning(timeS), sunK: sunK(timeS) })
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
      session.bench.world.setValve('V3', { passing: 8e-16 })
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
  ...voidRecordings,
]
