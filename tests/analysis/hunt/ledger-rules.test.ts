import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { holdsInOrder } from '#analysis/hunt/evidence-order.ts'
import { ledger } from '#analysis/hunt/ledger.ts'
import type { Evidence } from '#analysis/model/evidence.ts'
import type { HoldResult } from '#analysis/model/hold-result.ts'
import type { System } from '#analysis/model/system.ts'
import { atMinute, fitting, held, holdSpec, leak, marked, section, system, valve } from './made-system.ts'

const psi = 6894.757293

const plane = system(
  [section('feed'), section('forward')],
  [fitting('F1', 'feed'), fitting('F2', 'feed', { behind: ['F1'] }), fitting('F3', 'forward')],
  [valve('V1', ['feed', 'forward'])],
  [
    holdSpec('feed', ['feed'], ['V1'], { pressurePa: 10 * psi }),
    holdSpec('forward', ['forward'], ['V1'], { pressurePa: 10 * psi }),
    holdSpec('both', ['feed', 'forward'], [], { pressurePa: 10 * psi }),
    holdSpec('both-2psi', ['feed', 'forward'], [], { pressurePa: 2 * psi }),
    holdSpec('both-0.69bar', ['feed', 'forward'], [], { pressurePa: 69000 }),
    holdSpec('suction', ['feed'], ['V1'], { pressurePa: -2 * psi }),
  ],
)
const states = (evidence: readonly Evidence[], of: System = plane): string =>
  ledger(of, evidence)
    .fittings.map((f) => f.proof.state)
    .join(' ')
const pass = (hold: string, minute: number, result: Partial<HoldResult> = {}) =>
  held(plane, hold, minute, 'pass', null, { record: `${hold}-${minute}`, result })
const fail = (hold: string, minute: number) =>
  held(plane, hold, minute, 'fail', null, { record: `${hold}-${minute}` })
const work = (on: string, minute: number) => marked('work', on, minute, { action: 'remake' })
const look = (on: string, minute: number, finding: string) => marked('look', on, minute, { finding })

describe('ledger(), rules of docs/ledger.md', () => {
  test('1: a pass proves what its gauges cover and no others', () => {
    expect(states([pass('feed', 0)])).toBe('proven proven never-held')
  })

  test('2: a pass at 2 psi does not prove what must be held at 10; 0.69 bar is 10 psi', () => {
    expect(states([pass('both-2psi', 0)])).toBe('never-held never-held never-held')
    expect(states([pass('both-0.69bar', 0)])).toBe('proven proven proven')
    const { why } = ledger(plane, [pass('both-2psi', 0)]).fittings[0].proof
    expect(why).toBe('Held at 2 psi in both-2psi-0; it must be held at 10 psi.')
  })

  test('3: a pass under suction does not prove what has a pressure hold', () => {
    expect(states([pass('suction', 0)])).toBe('never-held never-held never-held')
  })

  test('4: a pass is stale where the file asks for less leak or describes the fitting otherwise today', () => {
    const holds = plane.holds.map((h) => ({ ...h, allow: { kind: 'gas-leak', molPerS: 5e-8 } as const }))
    expect(states([pass('both', 0)], { ...plane, holds })).toBe('stale stale stale')
    const fittings = plane.fittings.map((f) => (f.id === 'F3' ? { ...f, kind: 'clamp' as const } : f))
    expect(states([pass('both', 0)], { ...plane, fittings })).toBe('proven proven stale')
  })

  test('4: a pass is stale where the fitting sits in another section today', () => {
    const fittings = plane.fittings.map((f) => (f.id === 'F3' ? { ...f, section: 'feed' } : f))
    const moved = ledger({ ...plane, fittings }, [pass('both', 0)])
    expect(moved.fittings.map((f) => f.proof.state)).toEqual(['proven', 'proven', 'stale'])
    expect(moved.fittings[2].proof.why).toContain('it was in forward then and is in feed now')
  })

  test('5: undecided, void and corrected holds have no effect', () => {
    const corrects = held(plane, 'both', 90, 'void', null, { record: 'x', corrects: 'both-60' })
    expect(states([held(plane, 'both', 0, 'undecided'), pass('both', 60), corrects])).toBe(
      'never-held never-held never-held',
    )
    expect(states([pass('both', 0), held(plane, 'both', 30, 'void')])).toBe('proven proven proven')
  })

  test('6: a pass with its valve marked open, or moved during the hold, proves nothing', () => {
    expect(states([marked('valve', 'V1', -5, { open: true }), pass('feed', 0)])).toContain(
      'never-held never-held',
    )
    expect(states([marked('valve', 'V1', 10, { open: true }), pass('feed', 0)])).toContain(
      'never-held never-held',
    )
  })

  test('7: a fail fails every fitting that its gas reached, proven before or not', () => {
    expect(states([pass('feed', 0), fail('both', 60)])).toBe('failed failed failed')
  })

  test('8: passes at 2 psi do not clear a fail at 10, nor do passes that let more leak', () => {
    const low = system(plane.sections, plane.fittings, plane.valves, plane.holds.slice(3, 4))
    expect(states([fail('both', 0), pass('both-2psi', 60), pass('both-2psi', 120)], low)).toBe(
      'failed failed failed',
    )
    const loose = { allowance: { mol_per_s: 3e-7, drop_Pa: 2000 } }
    expect(states([fail('both', 0), pass('both', 60, loose), pass('both', 120, loose)])).toBe(
      'failed failed failed',
    )
    const sharp = { ...loose, leak: leak('feed', 2e-8, 1e-8) }
    expect(states([fail('both', 0), pass('both', 60, sharp), pass('both', 120, sharp)])).toBe(
      'proven proven proven',
    )
  })

  test('9: without work the second pass over the same fittings clears a fail, not the first', () => {
    expect(states([fail('both', 0), pass('both', 60)])).toBe('failed failed failed')
    expect(states([fail('both', 0), pass('both', 60), pass('both', 120)])).toBe('proven proven proven')
  })

  test('10: passes of the parts do not clear a fail of the whole, until work on a suspect explains it', () => {
    const parts = [fail('both', 0), pass('feed', 60), pass('forward', 120)]
    expect(states(parts)).toBe('failed failed failed')
    expect(states([...parts, pass('feed', 180), pass('forward', 240)])).toBe('failed failed failed')
    expect(states([...parts, work('F1', 180)])).toBe('stale stale proven')
    expect(states([...parts, work('F1', 180), pass('feed', 240)])).toBe('proven proven proven')
  })

  test('11: after work on a suspect a pass clears the fail where it covers', () => {
    expect(states([fail('both', 0), work('F3', 30), pass('forward', 60)])).toBe('failed failed proven')
    expect(states([fail('both', 0), work('F3', 30), pass('both', 60)])).toBe('proven proven proven')
  })

  test.each(['seep', 'bubbles', 'drip'])(
    '12: a later %s unproves the fitting until work and a pass',
    (finding) => {
      const found = [pass('both', 0), look('F3', 60, finding)]
      expect(states(found)).toBe('proven proven failed')
      expect(ledger(plane, found).complete).toBe(false)
      expect(states([...found, pass('both', 120)])).toBe('proven proven failed')
      expect(states([...found, work('F3', 90)])).toBe('proven proven stale')
      expect(states([...found, work('F3', 90), pass('both', 120)])).toBe('proven proven proven')
      expect(states([pass('both', 0), look('F3', 8, finding)])).toBe('proven proven failed')
    },
  )

  test('13: a stain unproves the fitting until the next pass', () => {
    expect(states([pass('both', 0), look('F3', 60, 'stain')])).toBe('proven proven failed')
    expect(states([look('F3', -60, 'stain'), pass('both', 0)])).toBe('proven proven proven')
  })

  test('14: fuel at a fitting in a wet stage unproves it, dry and wet', () => {
    const wet = (passed: boolean, minute: number): Evidence => ({
      kind: 'wet',
      record: `wet-${minute}`,
      timeNs: atMinute(minute),
      passed,
      fittings: ['F3'],
    })
    const l = ledger(plane, [pass('both', 0), wet(false, 60)])
    expect(l.fittings[2]).toMatchObject({
      proof: { state: 'failed', record: 'wet-60' },
      wet: { state: 'failed' },
    })
    expect(l.complete).toBe(false)
    const after = ledger(plane, [
      pass('both', 0),
      wet(false, 60),
      work('F3', 90),
      pass('both', 120),
      wet(true, 180),
    ])
    expect(after.fittings[2]).toMatchObject({ proof: { state: 'proven' }, wet: { state: 'proven' } })
    const worked = ledger(plane, [pass('both', 0), wet(true, 60), work('F3', 90)])
    expect(worked.fittings[2]).toMatchObject({ proof: { state: 'stale' }, wet: { state: 'stale' } })
  })

  test('15: work makes stale the fitting, the joint opened to reach it and what lies behind it', () => {
    expect(states([pass('both', 0), work('F2', 60)])).toBe('stale stale proven')
    expect(states([pass('both', 0), work('F1', 60)])).toBe('stale stale proven')
  })

  test('16: a valve replaced makes the sections stale that it parts', () => {
    expect(states([pass('both', 0), work('V1', 60)])).toBe('stale stale stale')
  })

  test('17: work on a section makes stale what is in it', () => {
    expect(states([pass('both', 0), work('feed', 60)])).toBe('stale stale proven')
  })

  test('18: a hold does not prove what was worked on after its pump-up', () => {
    expect(states([pass('both', 0), work('F3', 10)])).toBe('proven proven stale')
  })

  test('19: work on an unknown id is an error and keeps the ledger open', () => {
    const l = ledger(plane, [pass('both', 0), work('F99', 60)])
    expect(l.errors).toEqual([
      'Work is marked on F99, which the system file does not name: correct the mark, or add it to the file.',
    ])
    expect(l.complete).toBe(false)
  })

  test('20: a plug that is still in keeps the ledger open, marked as the page or the recording marks it', () => {
    const into = [pass('both', 0), marked('plug', 'P1', -60, { state: 'in' })]
    expect(ledger(plane, into).complete).toBe(false)
    expect(ledger(plane, [...into, marked('plug', 'P1', 60, { state: 'out' })]).complete).toBe(true)
    expect(ledger(plane, [...into, marked('plug', 'P1', 60, { in: false })]).complete).toBe(true)
  })

  test('21: one hold sealed twice is one hold, and the worse verdict counts', () => {
    const copy = held(plane, 'both', 60, 'pass', null, { record: 'copy', result: { recording: 'copy.lp' } })
    expect(states([fail('both', 0), pass('both', 60), copy])).toBe('failed failed failed')
    expect(states([fail('both', 60), copy])).toBe('failed failed failed')
  })

  test('21: of a pass and a fail that claim the same moment the fail counts as the later, in whichever order they are given', () => {
    const same = [pass('both', 0), fail('feed', 0)]
    for (const evidence of [same, [...same].reverse()]) {
      expect(holdsInOrder(evidence).map(({ evidence: e }) => e.result.verdict)).toEqual(['pass', 'fail'])
      expect(states(evidence)).toBe('failed failed proven')
    }
  })

  test('22: a pass that overlaps a fail does not clear it', () => {
    expect(states([fail('both', 0), pass('both', 5), pass('both', 10)])).toBe('failed failed failed')
  })
})

test('ledger() of a file without fittings is never complete: there is nothing to prove', () => {
  const bare = ledger({ ...plane, fittings: [] }, [pass('both', 0)])
  expect(bare.complete).toBe(false)
  expect(bare.message).toContain('names no fitting')
})

test('ledger() cautions of a pass that was made with a rig that failed or that nothing proves, not with a proven one', () => {
  const holds = [
    holdSpec('rig', ['rig'], []),
    holdSpec('feed', ['feed'], ['V1'], { rig: 'rig' }),
    holdSpec('forward', ['forward'], ['V1']),
  ]
  const sections = [...plane.sections, section('rig', { kind: 'rig' })]
  const rigged = system(sections, plane.fittings, plane.valves, holds)
  const made = (hold: string, minute: number, verdict: 'pass' | 'fail') =>
    held(rigged, hold, minute, verdict, null, { record: `${hold}-${minute}` })
  const cautions = (...evidence: Evidence[]): string =>
    ledger(rigged, evidence)
      .cautions.filter((text) => text.includes('(rig)'))
      .join()
  expect(cautions(made('feed', 60, 'pass'))).toMatch(/^feed-60: Nothing proves that the rig \(rig\) is tight/)
  expect(cautions(made('rig', 0, 'fail'), made('feed', 60, 'pass'))).toMatch(
    /^feed-60: The rig \(rig\) failed its own hold in rig-0/,
  )
  expect(cautions(made('rig', 0, 'pass'), made('feed', 60, 'pass'))).toBe('')
  expect(cautions(made('feed', 60, 'fail'))).toBe('')
  expect(cautions(made('forward', 60, 'pass'))).toBe('')
})

const event = fc.constantFrom(
  ...['feed', 'forward', 'both', 'both-2psi', 'suction'].flatMap((h) => [`pass ${h}`, `fail ${h}`]),
  'void both',
  ...['F1', 'F2', 'F3'].flatMap((f) => [`work ${f}`, `bubbles ${f}`, `stain ${f}`]),
  'work V1',
)
const history = fc.array(event, { minLength: 1, maxLength: 7 })
const evidenceOf = (events: readonly string[]): Evidence[] =>
  events.map((e, i) => {
    const [what, on] = e.split(' ')
    if (what === 'work') return work(on, 30 * i)
    if (what === 'bubbles' || what === 'stain') return look(on, 30 * i, what)
    return held(plane, on, 30 * i, what as 'pass', null, { record: `${on}-${i}` })
  })
const proven = (evidence: readonly Evidence[]): string[] =>
  ledger(plane, evidence).fittings.flatMap((f) => (f.proof.state === 'proven' ? [f.id] : []))

test('ledger() does not depend on the order in which the evidence is given (law)', () => {
  fc.assert(
    fc.property(history, fc.infiniteStream(fc.integer({ min: 0, max: 99 })), (events, keys) => {
      const evidence = evidenceOf(events)
      const shuffled = evidence
        .map((e) => ({ e, key: keys.next().value as number }))
        .sort((a, b) => a.key - b.key)
      expect(states(shuffled.map(({ e }) => e))).toBe(states(evidence))
    }),
  )
})

test('ledger() proves no more from one pass less, nor from one fail, finding or void hold more (law)', () => {
  fc.assert(
    fc.property(history, fc.nat(), (events, at) => {
      const evidence = evidenceOf(events)
      const i = at % events.length
      if (events[i].startsWith('work')) return
      const without = proven(evidence.filter((_, j) => j !== i))
      const [fewer, more] = events[i].startsWith('pass')
        ? [without, proven(evidence)]
        : [proven(evidence), without]
      expect(more).toEqual(expect.arrayContaining(fewer))
    }),
    { numRuns: 300 },
  )
})

test('ledger() never proves a fitting after work on it, a fail over it or a finding at it (law)', () => {
  fc.assert(
    fc.property(
      history,
      fc.constantFrom('work F1', 'fail feed', 'bubbles F1', 'stain F1'),
      (events, last) => {
        expect(proven(evidenceOf([...events, last]))).not.toContain('F1')
      },
    ),
  )
})
