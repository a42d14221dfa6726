import { describe, expect, it } from 'vitest'
import { compareHolds } from '#analysis/hunt/compare.ts'
import { hunt } from '#analysis/hunt/hunt.ts'
import type { LeakPath } from '#analysis/hunt/leak-problem.ts'
import { rateMixture } from '#analysis/hunt/leak-problem.ts'
import { leakPosterior } from '#analysis/hunt/posterior.ts'
import type { Evidence } from '#analysis/model/evidence.ts'
import type { FittingKind, System } from '#analysis/model/system.ts'
import { fitting, held, holdSpec, leak, marked, section, system } from './made-system.ts'

/** Joints of one section whose kinds leak as often as the file says. */
const joints = (leaking: Partial<Record<FittingKind, number>>): System => ({
  ...system(
    [section('feed')],
    (Object.keys(leaking) as FittingKind[]).map((kind) => fitting(kind, 'feed', { kind })),
    [],
    [holdSpec('feed', ['feed'], [])],
  ),
  priors: { source: 'made up', leaking },
})
/** A hold whose gauge tells nothing leaves the priors. */
const blindly = (leaking: Partial<Record<FittingKind, number>>, ...more: Evidence[]) => {
  const of = joints(leaking)
  const hold = held(of, 'feed', 0, 'undecided', [leak('feed', 0, 1)])
  return hunt(of, [hold, ...more], { fittingsOnly: true })
}
const look = (id: string, minute: number, finding = 'dry') => marked('look', id, minute, { finding })

describe('hunt() words a probability by where it lies (own figures)', () => {
  it.each([
    [0.004, 'No held fitting is under suspicion: over 99 % sure that none of them leaks.'],
    [0.04, 'No held fitting is under suspicion: 96 % sure that none of them leaks.'],
    [0.06, 'A leak at a fitting is unlikely (6 %); cap (cap) would be the first to check.'],
    [0.47, 'A leak at a fitting is unlikely (47 %); cap (cap) would be the first to check.'],
    [0.53, 'cap (cap) is the likeliest to leak, 53 %; not yet enough to call it.'],
    [0.88, 'cap (cap) is the likeliest to leak, 88 %; not yet enough to call it.'],
    [0.92, 'cap (cap) leaks, 92 % sure.'],
    [0.985, 'cap (cap) leaks, 98 % sure.'],
    [0.995, 'cap (cap) leaks, over 99 % sure.'],
  ])('%d', (cap, message) => {
    expect(blindly({ cap }).message).toBe(message)
  })
  it('one stands out of two when the other is less than 0.7 as likely', () => {
    expect(blindly({ cap: 0.6, flare: 0.4 }).message).toMatch(/^cap \(cap\) is the likeliest/)
    expect(blindly({ cap: 0.55, flare: 0.41 }).message).toBe(
      'A fitting leaks, but none of 2 fittings stands out yet.',
    )
  })
  it('a leak elsewhere is named where it is as sure', () => {
    const of = { ...joints({ cap: 0.001 }), valves: [] }
    const found = hunt(of, [
      held(of, 'feed', 0, 'fail', [leak('feed', 5e-7, 1e-8)]),
      ...[6, 7].map((minute) => look('cap', minute)),
      ...[8, 9].map((minute) => look('feed', minute, 'bubbles')),
    ])
    expect(found.message).toBe('feed leaks at no fitting of the file (hose, seam, wall), over 99 % sure.')
  })
})

describe('hunt() scales priors down that expect more than one leak (own figure)', () => {
  it.each([
    [8, 0.12],
    [12, 1 / 12],
    [30, 1 / 30],
  ])('of %d gaskets each leaks with %d', (count, leaking) => {
    const ids = Array.from({ length: count }, (_, n) => `G${n}`)
    const of = system(
      [section('feed')],
      ids.map((id) => fitting(id, 'feed', { kind: 'sender-gasket' })),
      [],
      [holdSpec('feed', ['feed'], [])],
    )
    const { fittings } = hunt(of, [held(of, 'feed', 0, 'undecided', [leak('feed', 0, 1)])], {
      fittingsOnly: true,
    })
    expect(fittings[0].leaking / leaking).toBeCloseTo(1, 1)
  })
})

describe('hunt() seeks a leak from 20 % on (own figure)', () => {
  const kinds = (cap: number) => blindly({ cap }).next.map(({ kind }) => kind)
  it('and offers work as the last resort only then', () => {
    expect(kinds(0.23)).toContain('work')
    expect(kinds(0.17)).not.toContain('work')
  })
})

it('hunt() calls two holds of one joint contradictory from 3.5 standard errors on (own figure)', () => {
  // Of 4e-7 ± d: u² = (1e-8)² + (0.05·leak)² + (0.05·1e-7)²; the larger one lies 3.5 u off the mean of the two at d = 7.1e-8.
  const contradict = (d: number): number => {
    const of = joints({ cap: 0.1 })
    const holds = [-d, d].map((off, n) => held(of, 'feed', 60 * n, 'fail', [leak('feed', 4e-7 + off, 1e-8)]))
    return hunt(of, holds, { fittingsOnly: true }).cautions.length
  }
  expect([6.3e-8, 8e-8].map(contradict)).toEqual([0, 1])
})

describe('hunt() works on a suspect at once or after cleaning and looking again', () => {
  const titles = (cap: number, ...more: Evidence[]) =>
    blindly({ cap }, ...more).next.map(({ title }) => title)
  it('at once from 90 % on, before cleaning from 50 % on (own figures)', () => {
    const place = (cap: number) => {
      const all = titles(cap)
      return [all.findIndex((one) => /^Work on/.test(one)), all.findIndex((one) => /^Clean/.test(one))]
    }
    expect(place(0.92)[0]).toBe(0)
    const [work, clean] = place(0.55)
    expect(work).toBeGreaterThan(0)
    expect(work).toBeLessThan(clean)
    const [later, earlier] = place(0.45)
    expect(later).toBeGreaterThan(earlier)
  })
  it('first of all once little hope is left at places not yet looked at twice: 15 % (own figure)', () => {
    const dry = [6, 7].map((minute) => look('cap', minute))
    const first = (flare: number) => blindly({ cap: 0.82, flare }, ...dry).next[0].title
    expect(first(0.13)).toMatch(/^Clean and dry|^Work on/)
    expect(first(0.18)).not.toMatch(/^Clean and dry|^Work on/)
  })
  it('after two dry looks no third is asked for, and a stain counts as one under pressure', () => {
    const asked = (...found: string[]) =>
      blindly({ cap: 0.6, flare: 0.1 }, ...found.map((finding, n) => look('cap', 6 + n, finding)))
        .next.filter(({ kind }) => kind === 'look')
        .some(({ fittings }) => fittings.includes('cap'))
    expect([asked('dry'), asked('dry', 'stain')]).toEqual([true, false])
  })
})

describe('hunt() leaves out a step that tells less than a hundredth of a bit (own figure)', () => {
  const entropy = (p: number): number => -p * Math.log2(p) - (1 - p) * Math.log2(1 - p)
  /** Of a verdict that is right 19 times in 20 about a joint. */
  const bits = (prior: number): number => entropy(0.05 + 0.9 * prior) - entropy(0.05)
  const holds = (prior: number) => {
    const of = { ...joints({ cap: prior }) }
    return hunt(of, [], { fittingsOnly: true }).next.filter(({ kind }) => kind === 'hold')
  }
  it.each([
    [0.003, 1],
    [0.0022, 0],
  ])('a hold of one joint that leaks with %d', (prior, count) => {
    expect(bits(prior) > 0.01).toBe(count === 1)
    expect(holds(prior)).toHaveLength(count)
    for (const hold of holds(prior)) expect(hold.bits).toBeCloseTo(bits(prior), 6)
  })
})

describe('leakPosterior() follows no history with less than e^−25 of the odds (own figure)', () => {
  /** A leak of this prior that went with a cure of the same chance. */
  const widened = (chance: number) => {
    const path: LeakPath = {
      prior: chance,
      breaks: [{ cure: chance, unchanged: 1 - chance, harm: 0 }],
      looks: [null, null],
    }
    const row = (molPerS: number, epoch: number) => ({
      molPerS,
      stdMolPerS: 2e-8,
      terms: [{ path: 0, epoch, factor: 1 }],
    })
    const rows = [row(5e-7, 0), row(0, 1)]
    return leakPosterior({ rates: rateMixture(1e-7), paths: [path], rows, verdictRows: [] }).widened
  }
  it('one of 1e-10, e^−23, explains the sums, and one of 1e-12, e^−27.6, does not', () => {
    expect(widened(1e-5)).toBe(1)
    expect(widened(1e-6)).toBeGreaterThan(1)
  })
})

describe('hunt() of many joints', () => {
  const many = (count: number) => {
    const ids = Array.from({ length: count }, (_, n) => `F${String(n).padStart(2, '0')}`)
    const of = system(
      [section('feed')],
      ids.map((id) => fitting(id, 'feed')),
      [],
      [holdSpec('feed', ['feed'], [])],
    )
    return hunt(of, [held(of, 'feed', 0, 'fail', [leak('feed', 4e-7, 1e-8)])], { fittingsOnly: true })
  }
  it('names the chances of eight stops of a look and then no more, in at most five steps', () => {
    const shown = (count: number) => {
      const { next } = many(count)
      expect(next.length).toBeLessThanOrEqual(5)
      const { why } = next.find(({ kind }) => kind === 'look')!
      return [why.match(/%/g)?.length, why.endsWith(', ….')]
    }
    expect([shown(8), shown(9)]).toEqual([
      [8, false],
      [8, true],
    ])
  })
})

describe('compareHolds() names what may be left', () => {
  const left = (leaking: Partial<Record<FittingKind, number>>, verdict: 'fail' | 'undecided' = 'fail') => {
    const of = joints(leaking)
    const [before, after] = [0, 60].map((minute) => held(of, 'feed', minute, verdict, [leak('feed', 0, 1)]))
    return compareHolds(of, before.result, after.result, [before, after]).left.map(({ id }) => id)
  }
  it('from 2 % on, likeliest first (own figure)', () => {
    expect(left({ cap: 0.025, flare: 0.016, clamp: 0.3 })).toEqual(['clamp', 'cap'])
  })
  it('at most five', () => {
    const six = { cap: 0.16, flare: 0.15, clamp: 0.14, other: 0.13, 'hose-end': 0.12, 'pipe-thread': 0.11 }
    expect(left(six)).toEqual(['cap', 'flare', 'clamp', 'other', 'hose-end'])
  })
  it('none where the later hold neither fails nor shows a leak', () => {
    expect(left({ cap: 0.3 }, 'undecided')).toEqual([])
  })
})
