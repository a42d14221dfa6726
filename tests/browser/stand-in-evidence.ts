import { gaugeDrifts } from '#analysis/hunt/gauge-drift.ts'
import type { HistoryHold } from '#analysis/hunt/history.ts'
import type { HuntResult } from '#analysis/hunt/hunt.ts'
import type { Ledger } from '#analysis/hunt/ledger.ts'
import type { ProofState } from '#analysis/hunt/proof-of-fittings.ts'
import type { Campaign } from '#analysis/model/campaign.ts'
import { recordIds } from './stand-in-records.ts'
import { standInSystem } from './stand-in-system.ts'

const stateOf: Readonly<Record<string, ProofState>> = {
  F06: 'proven',
  F08: 'proven',
  F09: 'proven',
  F07: 'failed',
  F12: 'stale',
  F13: 'proven',
}

export const ledger: Ledger = {
  stillhold: 1,
  system: standInSystem.name,
  complete: false,
  errors: [],
  message: '4 of 16 fittings are proven; 2 holds would prove 5 more.',
  counts: { proven: 4, stale: 1, failed: 1, 'never-held': 10 },
  fittings: standInSystem.fittings.map((one) => {
    const state = stateOf[one.id] ?? 'never-held'
    return {
      id: one.id,
      section: one.section,
      name: one.name,
      kind: one.kind,
      proof: {
        state,
        record: state === 'never-held' ? null : recordIds[state === 'failed' ? 1 : 0],
        hold: state === 'never-held' ? null : 'left-feed-10psi',
        since_ns: state === 'never-held' ? null : '1767442800000000000',
        why: {
          proven: 'A passing hold covered it after the last work on it.',
          stale: 'It was retightened after its proof.',
          failed: 'The last hold that covered it failed.',
          'never-held': 'No hold has covered it.',
        }[state],
      },
      wet: null,
      last_work:
        state === 'stale' ? { time_ns: '1767460000000000000', on: one.id, action: 'retighten' } : null,
    }
  }),
  open: [
    'F07 failed in 0003-left-feed-10psi.',
    'F12 was worked on since its proof.',
    'Both tanks were never held.',
  ],
  holds_to_do: [
    { hold: 'left-feed-10psi', sections: ['left-feed'], shut: ['V1', 'V2'], proves: ['F07'], minutes: 15 },
    {
      hold: 'left-tank-1psi',
      sections: ['left-tank'],
      shut: ['V1'],
      proves: ['F01', 'F02', 'F03'],
      minutes: 45,
    },
  ],
  holds_to_do_exact: true,
  uncoverable: [],
  plugs_in: [{ id: 'V6', since_ns: '1767440000000000000', record: recordIds[1] }],
  cautions: [],
}

export const campaign: Campaign = {
  stillhold: 1,
  system: standInSystem.name,
  complete: false,
  message: '1 set-up, about 17 min, closes the ledger.',
  proven: 4,
  total: 16,
  done: [{ record: recordIds[0], hold: 'left-feed-10psi', proves: ['F06', 'F08'] }],
  steps: [
    {
      kind: 'hold',
      title: 'Hold left-feed-10psi',
      hold: 'left-feed-10psi',
      sections: ['left-feed'],
      shut: ['V1', 'V2'],
      open: [],
      plugs: [],
      gauges: [{ channel: 'p-left', section: 'left-feed', move: false }],
      pressure_Pa: 68947.57,
      settle_seconds: 120,
      hold_seconds: 600,
      minutes: 15,
      proves: ['F07'],
      repair_first: ['F07'],
      cautions: [],
    },
    {
      kind: 'plugs-out',
      title: 'Take out V6 and mark it out',
      hold: null,
      sections: [],
      shut: [],
      open: [],
      plugs: ['V6'],
      gauges: [],
      pressure_Pa: null,
      settle_seconds: null,
      hold_seconds: null,
      minutes: 1,
      proves: [],
      repair_first: [],
      cautions: ['In now: V6.'],
    },
  ],
  minutes: 16,
  bound_minutes: 16,
  exact: true,
  plugs_in: ['V6'],
  uncoverable: [],
}

const advice = 'Vent, then take it apart and look at the flare; never under pressure.'
export const hunt: HuntResult = {
  stillhold: 1,
  system: standInSystem.name,
  taken_at: '2026-01-04T15:20:00.000Z',
  message: 'F07 leaks most likely: two holds and a look point to it.',
  sets: 1820,
  largest_set: 4,
  beyond: 0,
  reference_Pa: 68_947,
  scc_reference: '0 degC, 101.325 kPa',
  any_leak: 0.97,
  fittings: ['F07', 'F06', 'F08', 'F09'].map((id, i) => {
    const one = standInSystem.fittings.find((fitting) => fitting.id === id)!
    return {
      id,
      section: one.section,
      name: one.name,
      kind: one.kind,
      held: true,
      leaking: [0.83, 0.21, 0.08, 0.004][i],
      mol_per_s: null,
      scc_per_min: i === 0 ? { value: 0.41, low: 0.33, high: 0.5 } : null,
      advice,
    }
  }),
  valves: [
    {
      id: 'V2',
      name: 'selector, left',
      between: ['left-feed', 'sump-line'],
      passing: 0.12,
      mol_per_s: null,
      scc_per_min: null,
    },
  ],
  sections: [],
  elsewhere: [],
  next: [
    {
      kind: 'look',
      title: 'Brush F07 with leak fluid under pressure and look for bubbles',
      hold: null,
      sections: ['left-feed'],
      shut: [],
      fittings: ['F07'],
      places: ['F07'],
      bits: 0.41,
      minutes: 3,
      minutes_to_find: 3,
      bits_per_minute: 0.137,
      why: 'A look at F07 takes three minutes and settles the likeliest suspect.',
    },
    {
      kind: 'hold',
      title: 'Hold left-feed-10psi again',
      hold: 'left-feed-10psi',
      sections: ['left-feed'],
      shut: ['V1', 'V2'],
      fittings: ['F06', 'F07', 'F08', 'F09'],
      places: [],
      bits: 0.71,
      minutes: 15,
      minutes_to_find: 15,
      bits_per_minute: 0.047,
      why: 'It parts the four fittings of the line from the tank.',
    },
  ],
  used: [{ what: 'hold left-feed-10psi, fail', record: recordIds[1] }],
  ignored: [],
  cautions: ['Never tighten under pressure: vent first.'],
}

/** A leak that grew after months and was remade. */
export const pastHolds: readonly HistoryHold[] = [120, 130, 380, 110].map((dropPa, i) => ({
  section: 'left-feed',
  time_ns: String(1_767_000_000_000_000_000n + BigInt(i) * 2_600_000_000_000_000n),
  record: recordIds[i % recordIds.length],
  hold: 'left-feed-10psi',
  verdict: i === 2 ? 'fail' : 'pass',
  leak: {
    section: 'left-feed',
    drop_Pa: { value: dropPa, low: dropPa - 40, high: dropPa + 40 },
    scc_per_min: {
      value: dropPa / 1000,
      low: (dropPa - 40) / 1000,
      high: (dropPa + 40) / 1000,
      reference: '0 degC, 101.325 kPa',
    },
  },
  allowance: { drop_Pa: 300 },
  work: i === 3 ? [{ time_ns: '1773000000000000000', on: 'F07', action: 'remake' }] : [],
  change:
    i === 0
      ? null
      : { changed: i === 2 ? 'more' : i === 3 ? 'less' : 'not-shown', p_value: i === 1 ? 0.7 : 1e-6 },
}))

/** A gauge whose zero climbs by 3 Pa a day, and one that keeps still. */
export const pastGauges = gaugeDrifts(
  ['SN-4411', 'p-right'].flatMap((gauge, k) =>
    [0, 7, 16, 30, 41].map((day, i) => ({
      gauge,
      record: `000${i + 1}-left-feed-10psi`,
      time_ns: String(1_767_225_600_000_000_000n + BigInt(day) * 86_400_000_000_000n),
      before_Pa: (k === 0 ? 3 * day : 0) + [4, -3, 2, -4, 1][i],
      after_Pa: (k === 0 ? 3 * day : 0) + [2, -1, 5, -2, 2][i],
    })),
  ),
)
