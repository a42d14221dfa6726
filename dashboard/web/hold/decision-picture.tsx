import type { Estimate, Verdict } from '#analysis/model/hold-result.ts'
import { t } from '#analysis/reasons/language.ts'
import type { LeakLook } from '#dashboard/api.ts'
import { type Brush, circle, edge } from '../parts/brush.ts'
import { rowsAtMost } from '../parts/chart-figures.tsx'
import { drawState } from '../parts/state-mark.tsx'
import { TimeChart } from '../parts/time-chart.tsx'
import { clock, digits, leakDecimals, pressure, pressureDifference } from '../quantity.ts'

interface Props {
  readonly looks: readonly LeakLook[]
  readonly allowanceDropPa: number
  /** Planned length of the hold, [s]. */
  readonly lengthS: number | null
  readonly verdict: Verdict | null
  readonly decidesInS: number | null
}

/** An infinite bound arrives as null in JSON. */
const bound = (value: number | null, otherwise: number): number =>
  value === null || !Number.isFinite(value) ? otherwise : value

/** Drawn width of the first look: a point alone would hide the uncertainty of the leak. */
const firstLookShare = 0.03

const lines = [
  { label: t`leak`, token: '--accent', width: 3 },
  { label: t`at least`, token: '--accent', width: 1.5 },
  { label: t`at most`, token: '--accent', width: 1.5 },
] as const

/**
 * The decision over time: from left to right the interval of the leak narrows until it is wholly on one side of the
 * allowance. Above the line the system leaks more than allowed, below it is tight enough.
 */
export function DecisionPicture({ looks, allowanceDropPa: allowed, lengthS, verdict, decidesInS }: Props) {
  const { slope, decimals, symbol } = pressure()
  const last = looks.at(-1)
  const told = last ? leakDecimals(last.dropPa, allowed) : decimals
  const text = (pa: number | null): string => pressureDifference(pa, told)
  const said = last
    ? t`Leak ${text(last.dropPa.value)} over the hold, between ${text(last.dropPa.low)} and ${text(last.dropPa.high)}; ${text(allowed)} is allowed.`
    : t`No estimate yet.`

  const view = () => {
    const endS = Math.max(lengthS ?? 0, (last?.atS ?? 0) * 1.04, 60)
    const decidesAtS = last && decidesInS !== null ? last.atS + decidesInS : 0
    const untilS = Math.max(endS, Math.min(decidesAtS, endS * 1.5))
    const newest = last?.dropPa
    const high = Math.min(Math.max(allowed * 2, bound(newest?.high ?? null, allowed * 2) * 1.15), allowed * 6)
    const low = Math.max(Math.min(-allowed * 0.35, bound(newest?.low ?? null, 0) * 1.15), -allowed * 2)
    const half = untilS * firstLookShare
    const drawn =
      looks.length > 1
        ? looks
        : looks.flatMap((one) => [-half, half].map((s) => ({ ...one, atS: one.atS + s })))
    const points = (pa: (drop: Estimate) => number) =>
      drawn.map(({ atS, dropPa }) => [atS, pa(dropPa) * slope] as const)
    const lower = points((drop) => bound(drop.low, -high * 9))
    const upper = points((drop) => bound(drop.high, high * 9))
    return {
      columns: [points((drop) => drop.value), lower, upper].map((line) => ({
        x: line.map(([x]) => x),
        y: line.map(([, y]) => y),
      })),
      band: [...upper, ...lower.reverse()],
      x: [0, untilS] as const,
      y: [low * slope, high * slope] as const,
      zeroS: 0,
    }
  }

  const over = (brush: Brush): void => {
    const limit = allowed * slope
    if (last) {
      const { band, y } = view()
      brush.line(band, { token: '--accent', alpha: 0.26, fill: true, under: true })
      if (decidesInS !== null && decidesInS > 0 && verdict === null) {
        // Where the nearer bound will meet the allowance: a forecast, not data.
        const value = last.dropPa.value * slope
        const reach = Math.abs(limit - value)
        const atS = last.atS + decidesInS
        const bounds = [
          [bound(last.dropPa.low, y[0] / slope) * slope, value - reach],
          [bound(last.dropPa.high, y[1] / slope) * slope, value + reach],
        ] as const
        for (const [from, to] of bounds)
          brush.line(
            [
              [last.atS, from],
              [atS, to],
            ],
            { token: '--accent', width: 1.5, dash: [2, 6] },
          )
        brush.upright(
          atS,
          { token: '--ink-soft', width: 1.5 },
          bounds.map(([, to]) => to),
        )
      }
    }
    const zones = [
      ['--pass', -edge, t`holds`, -8],
      ['--fail', edge, t`leaks more than allowed`, 6],
    ] as const
    for (const [token, end, words, dy] of zones) {
      const corners = [-edge, edge].map((x) => [x, limit] as const)
      const zone = [...corners, [edge, end] as const, [-edge, end] as const]
      brush.line(zone, { token: `${token}-wash`, alpha: 0.75, fill: true, under: true })
      brush.words(words, [edge, end], { token, dy, weight: 400 })
    }
    brush.level(limit, { token: '--ink', width: 2.5 })
    brush.words(t`allowance ${digits(limit, decimals)}`, [edge, limit], { token: '--ink', dx: -4, dy: -6 })
    if (!last) return
    const tip = [last.atS, last.dropPa.value * slope] as const
    if (verdict !== null && verdict !== 'undecided') drawState(brush, verdict, tip)
    else {
      brush.shape(circle(5.4), tip, { token: '--accent', fill: true })
      brush.shape(circle(5.4), tip, { token: '--surface', width: 3 })
    }
  }

  const every = Math.max(1, Math.ceil(looks.length / rowsAtMost))
  const figures = {
    summary: said,
    rows: looks
      .filter((_, i) => (looks.length - 1 - i) % every === 0)
      .map(({ atS, dropPa: { value, low, high } }) => ({
        time: clock(atS),
        values: [value, low, high].map((pa) => digits(pa === null ? null : pa * slope, told)),
      })),
  }

  return (
    <TimeChart
      label="Leak against the allowance"
      unit={t`${symbol} over the hold`}
      said={said}
      decimals={told}
      lines={lines}
      look="is-decision"
      view={view}
      over={over}
      figures={figures}
    />
  )
}
