import { compareHolds } from '#analysis/hunt/compare.ts'
import { history } from '#analysis/hunt/history.ts'
import { holdSuspects, hunt } from '#analysis/hunt/hunt.ts'
import { ledger } from '#analysis/hunt/ledger.ts'
import { valvePassing } from '#analysis/hunt/valve-passing.ts'
import type { Evidence, HoldEvidence } from '#analysis/model/evidence.ts'
import { type HoldEvent, leaksOf, type SectionLeak } from '#analysis/model/hold-result.ts'
import type { System } from '#analysis/model/system.ts'
import { atMinute, fitting, held, holdSpec, leak, marked, section, system, valve } from './made-system.ts'

/** A tank, two lines, a cap and the rig, with a joint of every kind. */
const plane = system(
  [
    section('tank', { kind: 'tank', volumeM3: 40e-3, volumeToleranceM3: 2e-3, maxPressurePa: 20_684 }),
    section('feed'),
    section('forward', { volumeM3: 0.2e-3, volumeToleranceM3: 0.02e-3 }),
    section('hose', { kind: 'rig', volumeM3: 0.05e-3, volumeToleranceM3: 0.005e-3 }),
  ],
  [
    fitting('T1', 'tank', { kind: 'sender-gasket' }),
    fitting('T2', 'tank', { kind: 'cap' }),
    fitting('F1', 'feed', { name: 'wing root', size: '-6', material: 'aluminium' }),
    fitting('F2', 'feed', { behind: ['F1'] }),
    fitting('F3', 'feed', { kind: 'pipe-thread' }),
    fitting('F4', 'feed', { kind: 'drain-valve' }),
    fitting('W1', 'forward', { kind: 'hose-end', size: '-6' }),
    fitting('W2', 'forward', { kind: 'clamp' }),
    fitting('R1', 'hose', { kind: 'other' }),
  ],
  [valve('V1', ['tank', 'feed']), valve('V2', ['feed', 'forward']), valve('C1', ['forward'], 'cap')],
  [
    holdSpec('tank', ['tank'], ['V1'], { pressurePa: 10_342 }),
    holdSpec('feed', ['feed'], ['V1', 'V2'], { rig: 'hose' }),
    holdSpec('forward', ['forward'], ['V2', 'C1'], { rig: 'hose' }),
    holdSpec('both', ['feed', 'forward'], ['V1', 'C1'], { rig: 'hose', holdS: 900 }),
    holdSpec('apart', ['feed', 'forward'], ['V1', 'V2', 'C1'], { rig: 'hose' }),
    holdSpec('soft', ['feed'], ['V1', 'V2'], { pressurePa: 34_474, rig: 'hose' }),
    holdSpec('hose', ['hose'], [], { pressurePa: 82_737, settleS: 60, holdS: 300 }),
  ],
)
const hold = (id: string, minute: number, verdict: 'pass' | 'fail' | 'undecided', ...leaks: SectionLeak[]) =>
  held(plane, id, minute, verdict, leaks.length === 0 ? null : leaks, { record: `${id}-${minute}` })
const look = (id: string, minute: number, finding: string) => marked('look', id, minute, { finding })
const work = (id: string, minute: number, action: string) => marked('work', id, minute, { action })
const day = 24 * 60

/** Five sections in a row, each with its own gauge. */
const row = ['a', 'b', 'c', 'd', 'e']
const five = system(
  row.map((id) => section(id)),
  row.flatMap((id) => [fitting(`${id}1`, id), fitting(`${id}2`, id, { kind: 'cap' })]),
  row.slice(1).map((id, n) => valve(`V${n + 1}`, [row[n], id])),
  [holdSpec('whole', row, []), holdSpec('a', ['a'], ['V1'])],
)

/** Two dozen alike joints in two sections. */
const alike = system(
  [section('feed'), section('forward')],
  Array.from({ length: 24 }, (_, n) => fitting(`F${n}`, n < 16 ? 'feed' : 'forward')),
  [valve('V1', ['feed', 'forward'])],
  [holdSpec('whole', ['feed', 'forward'], []), holdSpec('feed', ['feed'], ['V1'])],
)

/** A leak of fuel, [mL/min]. */
const drips = (id: string, value: number, half: number): SectionLeak => ({
  section: id,
  mL_per_min: { value, low: value - half, high: value + half },
  drop_Pa: { value: 0, low: 0, high: 0 },
})
const fallAt = (id: string, minute: number, probability: number): HoldEvent => ({
  time_ns: atMinute(minute),
  kind: 'slope',
  mark: { kind: 'look', id },
  section: 'feed',
  change: { value: -2e-7, low: -3e-7, high: -1e-7, unit: 'mol_per_s' },
  probability,
  message: '',
})

const failed = hold('feed', 0, 'fail', leak('feed', 4e-7, 1.5e-8))

/** What happened at the bench, each a kind of its own. */
const cases: Readonly<Record<string, readonly [of: System, evidence: readonly Evidence[]]>> = {
  'one hold that fails': [plane, [failed]],
  'looks under pressure and at rest, one sign in each word': [
    plane,
    [
      failed,
      look('F1', 6, 'seep'),
      look('F2', 7, 'dry'),
      look('F3', 8, 'stain'),
      look('F3', 9, 'dry'),
      look('feed', 10, 'dry'),
      look('F4', 11, 'bubbles'),
      look('W1', 40, 'stain'),
      look('W2', 41, 'seep'),
      look('T1', 42, 'drip'),
      look('T2', 43, 'dry'),
    ],
  ],
  'work that cures a part, on a joint behind another, and a retest': [
    plane,
    [
      held(plane, 'feed', 0, 'fail', [leak('feed', 4e-7, 1.5e-8)], {
        record: 'feed-0',
        result: { events: [fallAt('F3', 9, 0.8)] },
      }),
      look('F2', 8, 'bubbles'),
      look('F3', 9, 'seep'),
      work('F2', 30, 'remake'),
      work('F4', 31, 'retighten'),
      hold('feed', 60, 'undecided', leak('feed', 1.1e-7, 1.2e-8)),
    ],
  ],
  'two sections at once with a shut valve between, and what its neighbor gains': [
    plane,
    [
      held(plane, 'forward', 0, 'undecided', [leak('forward', 0.9e-7, 2e-8)], {
        record: 'forward-0',
        result: { neighbors: [leak('feed', -0.6e-7, 1e-8)] },
      }),
      hold('apart', 40, 'fail', leak('feed', 3e-7, 1e-8), leak('forward', -1.2e-7, 3e-8)),
    ],
  ],
  'liquid in the line': [
    plane,
    [
      hold('both', 0, 'fail', drips('feed', 0.06, 0.008)),
      hold('forward', 40, 'pass', drips('forward', 0.001, 0.004)),
    ],
  ],
  'verdicts alone': [
    plane,
    [hold('both', 0, 'fail'), hold('forward', 40, 'pass'), look('F1', 6, 'dry'), look('F1', 7, 'dry')],
  ],
  'a season: work, holds at other pressures, a rig, fuel': [
    plane,
    [
      hold('hose', 0, 'pass', leak('hose', 1e-9, 4e-9)),
      hold('tank', 30, 'pass', leak('tank', 2e-8, 3e-8)),
      hold('both', 60, 'fail', leak('feed', 6e-7, 2e-8)),
      hold('forward', 90, 'pass', leak('forward', 1e-8, 8e-9)),
      work('F3', 120, 'reseal'),
      hold('soft', 150, 'fail', leak('feed', 1.4e-7, 1e-8)),
      look('F1', 156, 'bubbles'),
      work('F1', 180, 'replace'),
      hold('feed', 210, 'pass', leak('feed', 1e-8, 9e-9)),
      hold('forward', 240, 'pass', leak('forward', 0, 8e-9)),
      { kind: 'wet', record: 'wet', timeNs: atMinute(300), passed: true, fittings: ['F1', 'F2', 'W1'] },
      work('W1', 30 * day, 'replace'),
      marked('plug', 'C1', 30 * day + 5, { state: 'in' }),
      look('F4', 90 * day, 'drip'),
      hold('feed', 91 * day, 'fail', leak('feed', 2.6e-7, 1e-8)),
    ],
  ],
  'five sections with a gauge each': [
    five,
    [
      held(five, 'whole', 0, 'fail', [leak('c', 5e-7, 2e-8)], { record: 'whole' }),
      held(five, 'a', 40, 'pass', [leak('a', 3e-8, 2e-8)], { record: 'a' }),
    ],
  ],
  'two dozen alike joints, two of them looked at': [
    alike,
    [
      held(alike, 'whole', 0, 'fail', [leak('feed', 8e-7, 2e-8)], { record: 'whole' }),
      look('F3', 6, 'dry'),
      look('F20', 7, 'dry'),
      held(alike, 'feed', 40, 'fail', [leak('feed', 3e-7, 1.5e-8)], { record: 'feed' }),
    ],
  ],
  'sharp holds at half the pressure, and one at all of it': [
    plane,
    [
      ...[0, 40].map((minute) => hold('soft', minute, 'fail', leak('feed', 0.2e-7, 5e-10))),
      hold('feed', 80, 'undecided', leak('feed', 0.46e-7, 1e-9)),
    ],
  ],
  'a dozen of two dozen joints and a verdict': [
    alike,
    [held(alike, 'feed', 0, 'fail', null, { record: 'feed' })],
  ],
  'holds that contradict each other': [
    plane,
    [hold('feed', 0, 'fail', leak('feed', 9e-7, 1e-8)), hold('feed', 60, 'fail', leak('feed', 2e-7, 1e-8))],
  ],
}

/** All that the hunt says of a case: the suspects and the steps, the ledger, what changed and the history. */
function saidOf([of, evidence]: readonly [of: System, evidence: readonly Evidence[]]): unknown {
  const holds = evidence.filter((e): e is HoldEvidence => e.kind === 'hold')
  const [first, last] = [holds[0], holds.at(-1)!]
  const { fittings, ...found } = hunt(of, evidence)
  const { message, open, holds_to_do, cautions } = ledger(of, evidence)
  const spec = of.holds.find(({ id }) => id === last.result.hold)!
  return {
    hunt: { ...found, fittings: fittings.map(({ advice, ...each }) => each) },
    ledger: { message, open, holds_to_do, cautions },
    passing: valvePassing(of, spec, leaksOf(last.result)).map(({ valve: { id }, passing }) => [id, passing]),
    change: first === last ? null : compareHolds(of, first.result, last.result, evidence),
    history: history(of, evidence).map(({ record, section: id, change }) => [record, id, change]),
    suspects: holdSuspects(of, last.result, { marks: [] } as never),
  }
}

/** The cases whose results kept-figures.json keeps, each computed when it is called. */
export const huntCases: ReadonlyMap<string, () => unknown> = new Map(
  Object.entries(cases).map(([name, of]) => [name, () => saidOf(of)]),
)
