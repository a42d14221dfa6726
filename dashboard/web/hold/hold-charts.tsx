import { useSignal } from '@preact/signals'
import { t } from '#analysis/reasons/language.ts'
import { bench } from '../live/bench.ts'
import { compensated } from '../live/compensated.ts'
import { drawn, traceOf } from '../live/traces.ts'
import { type Brush, edge } from '../parts/brush.ts'
import type { ChartView } from '../parts/chart-figures.tsx'
import { Segmented } from '../parts/fields.tsx'
import { limitPa } from '../parts/hold-limits.ts'
import { type ChartColumns, extremes, firstAt, noColumns } from '../parts/line-path.ts'
import { drawMarks } from '../parts/marks-layer.ts'
import { TimeChart } from '../parts/time-chart.tsx'
import { barometer, pressure, temperature } from '../quantity.ts'
import { fromPumpUp, gaugeOffsetPa, type Running } from './running.ts'

/** Colors of the sections in turn. */
const tokenOf = (i: number): string => (i % 2 === 0 ? '--line-a' : '--line-b')

/**
 * Pressure at the start of the hold, in display units; the allowance is relative to it. The curves begin while
 * the section settles. Null: not yet known.
 */
function startOf(run: Running, curves: readonly (ChartColumns | undefined)[]): number | null {
  if (run.holdStartS === null) return null
  for (const { x, y } of curves.filter((one) => one !== undefined)) {
    const start = y[firstAt(x, run.holdStartS)]
    if (typeof start === 'number' && Number.isFinite(start)) return start
  }
  return null
}

/**
 * Raw and compensated pressure, and the allowance line that the compensated pressure must stay above.
 *
 * @param of the section to draw, since a drop is too small to see on a scale of several sections; null: all
 */
export function PressureChart({ run, of }: { run: Running; of: string | null }) {
  const whole = useSignal<'close' | 'whole'>('close')
  const holding = run.holdStartS !== null
  const close = holding && whole.value === 'close'
  const pressures = of === null ? run.pressures : run.pressures.filter((one) => one.section === of)
  const sections = [...new Set(pressures.map((one) => one.section))]
  const several = pressures.length > 1
  const lines = [
    ...pressures.map((one, i) => ({
      label: several ? t`${one.channel} as read` : t`as read`,
      token: holding ? '--raw' : tokenOf(i),
      width: holding ? 1 : 2,
    })),
    ...(holding
      ? sections.map((one, i) => ({
          label: sections.length > 1 ? t`${one} compensated` : t`compensated`,
          token: tokenOf(i),
          width: 2.5,
        }))
      : []),
  ]
  let starts: readonly (number | null)[] = []

  const view = (): ChartView => {
    const display = pressure()
    const nowS = bench.peek()?.nowS ?? 0
    const fromS = close ? run.holdStartS! : fromPumpUp(run, nowS)
    // The vent would flatten the rest of the curve: the close view ends at its start.
    const endS = close && run.stage === 'vent' ? run.stageStartedS : nowS
    const raw: ChartColumns[] = pressures.map((one) => {
      const offset = gaugeOffsetPa(one.absolute, run.barometer) * display.slope + display.offset
      return traceOf(one.channel)?.columns(fromS, display.slope, offset, endS) ?? noColumns
    })
    const curves = compensated.peek()
    const steady = holding
      ? sections.map((one) => {
          const curve = curves[one]
          return curve
            ? { x: curve.timeS, y: curve.compensatedPa.map((pa) => pa * display.slope) }
            : noColumns
        })
      : []
    const columns = [...raw, ...steady]
    starts = sections.map((one, i) =>
      startOf(run, [steady[i], raw[pressures.findIndex((other) => other.section === one)]]),
    )
    const lengthS = run.spec?.holdS ?? run.stageLengthS ?? 60
    const toS = close
      ? run.holdStartS! + Math.max(lengthS, endS - run.holdStartS!) * 1.02
      : Math.max(nowS + 5, fromS + 60)
    return {
      columns,
      x: [fromS, toS],
      y: close
        ? closeRange(extremesOf(columns, fromS, toS), starts, allowance(display.slope))
        : wholeRange(extremesOf(columns, fromS, toS), run, display.slope),
      zeroS: holding ? run.holdStartS! : (run.pumpUpS ?? fromS),
      speed: bench.peek()?.speed,
    }
  }
  /** Signed: under vacuum a leak raises the pressure. */
  const allowance = (slope: number): number =>
    run.allowanceDropPa * slope * (run.spec && run.spec.pressurePa < 0 ? -1 : 1)

  const over = (brush: Brush): void => {
    const { slope } = pressure()
    const level = (value: number, token: string, word: string): void => {
      brush.level(value, { token, dash: [8, 5] })
      brush.words(word, [edge, value], { token, dx: -8 })
    }
    for (const start of holding ? starts : [])
      if (start !== null) drawAllowance(brush, run, start, allowance(slope))
    if (!close && run.spec) level(run.spec.pressurePa * slope, '--accent', t`to hold`)
    const limit = limitPa(
      run.spec,
      run.sections.filter((one) => sections.includes(one.id)),
    )
    if (!close && limit !== null) level(limit * slope, '--fail', limit < 0 ? t`deepest` : t`maximum`)
    drawMarks(brush, bench.peek()?.marks ?? [])
  }

  return (
    <section
      class="panel chart-panel stack tight"
      aria-label={of === null ? t`Pressure chart` : t`Pressure chart of ${of}`}
    >
      <TimeChart
        label={of === null ? t`Pressure` : t`Pressure of ${of}`}
        unit={pressure().symbol}
        decimals={pressure().decimals + 1}
        lines={lines}
        stream={() => {
          drawn.value
          compensated.value
        }}
        view={view}
        over={over}
      />
      {holding && (
        <Segmented
          legend={of === null ? t`Span of the chart` : t`Span of the chart of ${of}`}
          quietLegend
          options={[
            ['close', t`The hold`],
            ['whole', t`From pump-up`],
          ]}
          of={whole}
        />
      )}
    </section>
  )
}

function extremesOf(columns: readonly ChartColumns[], fromS: number, toS: number): [number, number] {
  const all = columns.map((one) => extremes(one, fromS, toS))
  return [Math.min(...all.map(([low]) => low)), Math.max(...all.map(([, high]) => high))]
}

function closeRange(
  [lowest, highest]: readonly [number, number],
  starts: readonly (number | null)[],
  allowed: number,
): [number, number] | null {
  if (!Number.isFinite(lowest)) return null
  let low = lowest
  let high = highest
  for (const start of starts) {
    if (start === null) continue
    low = Math.min(low, start - Math.max(allowed, 0) * 1.35)
    high = Math.max(high, start + Math.max(-allowed, 0) * 1.35, start + Math.abs(allowed) * 0.4)
  }
  const pad = (high - low) * 0.06
  return [low - pad, high + pad]
}

function wholeRange([low, high]: readonly [number, number], run: Running, slope: number): [number, number] {
  const target = (run.spec?.pressurePa ?? 0) * slope
  const bottom = Math.min(0, low, target * 1.12)
  const top = Math.max(0, high, target * 1.12)
  return [Number.isFinite(bottom) ? bottom : 0, Number.isFinite(top) && top > bottom ? top * 1.04 : 1]
}

function drawAllowance(brush: Brush, run: Running, start: number, allowed: number): void {
  const from = run.holdStartS!
  const to = from + (run.spec?.holdS ?? run.stageLengthS ?? 60)
  const beyond = allowed >= 0 ? -edge : edge
  const limit = [
    [from, start],
    [to, start - allowed],
  ] as const
  brush.line([...limit, [to, beyond], [from, beyond]], {
    token: '--fail-wash',
    alpha: 0.55,
    fill: true,
    under: true,
  })
  brush.line(limit, { token: '--fail', dash: [8, 5] })
  brush.words(t`allowance`, limit[1], { token: '--fail', dy: allowed >= 0 ? 7 : -7 })
}

/** Temperature and atmosphere: they move the gauge too. */
export function AirCharts({ run }: { run: Running }) {
  const kinds = [
    { label: t`Temperature`, display: temperature, decimals: 2, channels: run.temperatures },
    {
      label: t`Atmosphere`,
      display: barometer,
      decimals: barometer().decimals,
      channels: run.barometer === null ? [] : [run.barometer],
    },
  ]
  return (
    <section class="panel air-charts cells" aria-label="Temperature and atmosphere">
      {kinds
        .filter(({ channels }) => channels.length > 0)
        .map(({ label, display, decimals, channels }) => (
          <TimeChart
            key={label}
            look="is-short"
            label={label}
            unit={display().symbol}
            decimals={decimals}
            lines={channels.map((one, i) => ({
              label: one,
              token: display === barometer ? '--barometer' : i === 0 ? '--temperature' : '--raw',
              width: 1.6,
            }))}
            stream={() => drawn.value}
            view={() => {
              const { slope, offset } = display()
              const nowS = bench.peek()?.nowS ?? 0
              const fromS = run.holdStartS ?? fromPumpUp(run, nowS)
              const lengthS = run.holdStartS === null ? 60 : (run.spec?.holdS ?? 60)
              return {
                columns: channels.map((one) => traceOf(one)?.columns(fromS, slope, offset) ?? noColumns),
                x: [fromS, fromS + Math.max(lengthS, nowS - fromS) * 1.02],
                y: null,
                zeroS: run.holdStartS ?? run.pumpUpS ?? fromS,
              }
            }}
          />
        ))}
    </section>
  )
}
