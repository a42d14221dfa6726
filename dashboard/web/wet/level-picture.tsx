import type { LevelResult } from '#analysis/fuel-work/calibrate-level.ts'
import { t } from '#analysis/reasons/language.ts'
import { type Brush, circle, edge } from '../parts/brush.ts'
import { TimeChart } from '../parts/time-chart.tsx'
import { digits, volume, withUnit } from '../quantity.ts'

const triangle = { up: 'M-5 4H5L0 -5Z', down: 'M-5 -4H5L0 5Z' } as const

/** Reading against usable fuel: upward triangles for filling, downward ones for draining, crosses for excluded points. */
export function LevelPicture({ result }: { result: LevelResult }) {
  const { points, rejected, steps_level: steps, reading_unit: unit } = result
  const all = [...points, ...rejected].filter(({ reading }) => reading !== null)
  if (all.length < 2) return null
  const perLiter = volume().slope / 1000
  const fuel = all.map(({ usable_L }) => usable_L * perLiter)
  const readings = all.map(({ reading }) => reading!)
  const [low, high] = [Math.min(...readings), Math.max(...readings)]
  const room = (high - low || 1) * 0.08
  const most = Math.max(...fuel)
  const read = steps.filter((step) => step.reading !== null)
  const at = (of: { readonly usable_L: number; readonly reading: number | null }) =>
    [of.usable_L * perLiter, of.reading!] as const
  const summary = t`Readings from ${digits(readings[0], 1)} to ${digits(readings.at(-1), 1)} ${unit} over ${withUnit(most / volume().slope, volume(), 1)}.`
  const over = (brush: Brush): void => {
    for (const step of steps) {
      const x = step.usable_L * perLiter
      brush.upright(x, { token: '--line', width: 1, under: true })
      brush.words(`${step.step}`, [x, edge], { token: '--ink-soft', dx: -3, dy: 4, weight: 400 })
    }
    for (const point of points)
      brush.shape(triangle[point.direction], at(point), { token: '--raw', width: 1.6 })
    for (const point of rejected)
      if (point.reading !== null)
        brush.shape('M-5 -5l10 10m0 -10l-10 10', at(point), { token: '--fail', width: 2.4 })
    for (const step of read) {
      brush.shape(circle(4), at(step), { token: '--surface', fill: true })
      brush.shape(circle(4), at(step), { token: '--line-a' })
    }
  }
  return (
    <>
      <TimeChart
        label="Reading"
        unit={t`${unit} over the usable fuel in ${volume().symbol}, step by step of the gauge`}
        said={summary}
        across="number"
        decimals={1}
        lines={[{ label: t`steps`, token: '--line-a', width: 2 }]}
        view={() => ({
          columns: [{ x: read.map((one) => at(one)[0]), y: read.map((one) => one.reading) }],
          x: [Math.min(0, ...fuel), most * 1.02],
          y: [low - room, high + room],
          zeroS: 0,
        })}
        over={over}
        figures={{ summary, rows: [] }}
      />
      <p class="small soft">△ filling ▽ drawing off × left out ○ step</p>
    </>
  )
}
