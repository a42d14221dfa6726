import type { HoldResult, Verdict } from '#analysis/model/hold-result.ts'
import type { MinMaxColumns } from '#dashboard/api.ts'
import type { RecordSummary } from '#dashboard/archive/record.ts'
import { allowanceDropPa, ripple } from './stand-in-curve.ts'
import { standInSystem } from './stand-in-system.ts'

const startNs = 1_767_225_600_000_000_000n
const ns = (s: number): string => String(startNs + BigInt(Math.round(s * 1e9)))

export const recordIds = [
  '0004-left-feed-10psi',
  '0003-left-feed-10psi',
  '0002-left-tank-1psi',
  '0001-left-feed-10psi',
]
const verdicts: readonly Verdict[] = ['pass', 'fail', 'void', 'undecided']
/** The second newest is a day long. */
export const dayLongId = recordIds[2]

export function resultOf(id: string): HoldResult {
  const i = recordIds.indexOf(id)
  const verdict = verdicts[Math.max(0, i)]
  const share = verdict === 'pass' ? 0.3 : verdict === 'fail' ? 1.9 : 0.9
  const half = verdict === 'undecided' ? 0.5 : 0.09
  const scale = (times: number) => ({
    value: share * times,
    low: (share - half) * times,
    high: (share + half) * times,
  })
  const long = id === dayLongId
  const hold = long ? 'left-tank-1psi' : 'left-feed-10psi'
  return {
    stillhold: 1,
    recording: `${id}.lp`,
    hold,
    sections: [long ? 'left-tank' : 'left-feed'],
    verdict,
    reasons: [
      verdict === 'pass'
        ? { code: 'leak-below-allowance', message: 'The upper bound of the leak is below the allowance.' }
        : verdict === 'fail'
          ? { code: 'leak-above-allowance', message: 'The lower bound of the leak is above the allowance.' }
          : verdict === 'void'
            ? {
                code: 'no-vent-response',
                message: 'The gauge did not follow the vent: it may have been shut off.',
              }
            : {
                code: 'interval-straddles',
                message: 'The allowance lies inside the interval; about 6 min more would decide.',
              },
    ],
    stages: {
      source: 'marks',
      pump_up_ns: ns(60),
      settle_ns: ns(110),
      hold_ns: ns(230),
      vent_ns: ns(long ? 86_000 : 830),
    },
    seconds: long ? 85_770 : 600,
    leak: {
      section: long ? 'left-tank' : 'left-feed',
      mol_per_s: scale(1.66e-7),
      scc_per_min: { ...scale(0.22), reference: '0 degC, 101.325 kPa' },
      drop_Pa: scale(allowanceDropPa),
    },
    allowance: { mol_per_s: 1.66e-7, scc_per_min: 0.22, drop_Pa: allowanceDropPa },
    raw_drop_Pa: share * allowanceDropPa * 1.4,
    needs_seconds_more: verdict === 'undecided' ? 360 : null,
    fittings:
      verdict === 'fail'
        ? [
            { id: 'F07', leaking: 0.83 },
            { id: 'F06', leaking: 0.21 },
            { id: 'F08', leaking: 0.08 },
            { id: 'F09', leaking: 0.02 },
          ]
        : [],
    events: [],
  }
}

export const summaries = (): RecordSummary[] =>
  recordIds.map((id, i) => {
    const result = resultOf(id)
    return {
      id,
      sequence: 4 - i,
      kind: 'hold',
      sealed_at: `2026-01-0${4 - i}T1${i}:20:00.000Z`,
      subject: result.hold,
      sections: result.sections,
      verdict: result.verdict,
      operator: 'initials',
      corrects: null,
      chain: null,
      retests: i === 0 ? recordIds[1] : null,
    }
  })

export function openRecord(id: string): {
  readonly record: unknown
  readonly curves: unknown
  readonly statedHoldS: number
  readonly meaning: unknown
  readonly budget: HoldResult['budget']
} {
  const result = resultOf(id)
  const length = result.seconds
  const points = 240
  const timeS = Array.from({ length: points }, (_, k) => 230 + (length * k) / (points - 1))
  const drop = Array.isArray(result.leak) ? 0 : (result.leak as { drop_Pa: { value: number } }).drop_Pa.value
  const line = timeS.map((t) => 68_947 - (drop * (t - 230)) / length)
  return {
    record: {
      stillhold_record: 1,
      ...summaries().find((one) => one.id === id),
      previous_sha256: '5f2d'.padEnd(64, '0'),
      program: { name: 'stillhold', version: '0.1.0' },
      recording: { name: `${id}.lp`, sha256: 'c0ffee'.padEnd(64, '1'), bytes: 812_344 },
      system: { name: standInSystem.name, sha256: 'ab'.padEnd(64, '2'), text: 'stillhold: 1\n' },
      result,
      witness: null,
      photos: [],
      note: 'Cowling off, hangar doors shut.',
      public_key: 'k'.padEnd(44, 'A'),
      signature: 's'.padEnd(88, 'B'),
    },
    curves: [
      {
        section: result.sections[0],
        timeS,
        gaugePa: line.map((p, k) => p + 180 * Math.sin(k / 22) + 14 * ripple(k)),
        compensatedPa: line.map((p, k) => p + 10 * ripple(k * 3)),
        leakLinePa: line,
        temperatureK: timeS.map((_, k) => 291.2 + 0.4 * Math.sin(k / 22)),
        barometricPa: timeS.map((_, k) => 101_200 + 25 * Math.sin(k / 40)),
      },
    ],
    statedHoldS: length,
    budget: [
      { source: 'drift', share: 0.62 },
      { source: 'gauge', share: 0.3 },
      { source: 'weather', share: 0.08 },
    ],
    meaning: [
      {
        section: result.sections[0],
        drop_per_hour_Pa: (drop * 3600) / 600,
        equivalent_hole_m: 9.1e-6,
        fuel_mL_per_h: 0.46,
        drops_per_min: 0.15,
        assumptions: ['laminar path', 'avgas at 0.5 mPa·s', '0.05 mL a drop'],
      },
    ],
  }
}

/** What a server that keeps a day of 10 Hz readings hands out: extremes of each slice, single readings when near. */
export function columnsOf(id: string, fromS: number, toS: number, points: number): MinMaxColumns[] {
  const end = id === dayLongId ? 86_400 : 860
  const from = Math.max(0, fromS)
  const to = Math.min(end, Number.isFinite(toS) ? toS : end)
  const step = Math.max(0.1, (to - from) / points)
  const timeS: number[] = []
  const low: number[] = []
  const high: number[] = []
  // As the server has it: a slice stands at its middle.
  const middle = step > 0.1 ? step / 2 : 0
  for (let t = from; t <= to - middle; t += step) {
    const center = t < 60 ? 0 : t < 110 ? 690 * (t - 60) * 2 : 68_947 + 300 * Math.sin(t / 4000) - t / 90
    const reach = step > 0.1 ? 30 : 0
    timeS.push(t + middle)
    low.push(center + (reach === 0 ? 20 * ripple(Math.round(t * 10)) : -reach))
    high.push(center + (reach === 0 ? 20 * ripple(Math.round(t * 10)) : reach))
  }
  return [
    { channel: 'p-left', timeS, low, high },
    {
      channel: 't-left',
      timeS,
      low: timeS.map((t) => 291 + Math.sin(t / 9000)),
      high: timeS.map((t) => 291.02 + Math.sin(t / 9000)),
    },
  ]
}
