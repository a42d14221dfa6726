import { useSignal } from '@preact/signals'
import type uPlot from 'uplot'
import { bench } from '../live/bench.ts'
import { compensated } from '../live/compensated.ts'
import { drawn, traceOf } from '../live/traces.ts'
import { canvasFont } from '../parts/canvas-font.ts'
import type { ChartView } from '../parts/chart-figures.tsx'
import { ink } from '../parts/ink.ts'
import { type ChartColumns, extremes, firstAt, noColumns } from '../parts/line-path.ts'
import { drawMarks } from '../parts/marks-layer.ts'
import { Segmented } from '../parts/segmented.tsx'
import { TimeChart } from '../parts/time-chart.tsx'
import { pressure } from '../quantity.ts'
import { limitPa } from '../suction.ts'
import { gaugeOffsetPa, type Running } from './running.ts'

const tokens = ['--line-a', '--line-b'] as const

/**
 * Pressure at the start of the hold, in display units: where the allowance is measured from. The curves begin while
 * it settles. Null: not yet known.
 */
function startOf(run: Running, raw: ChartColumns, compensated: ChartColumns | undefined): number | null {
  if (run.holdStartS === null) return null
  for (const { x, y } of compensated ? [compensated, raw] : [raw]) {
    const start = y[firstAt(x, run.holdStartS)]
    if (typeof start === 'number' && Number.isFinite(start)) return start
  }
  return null
}

/**
 * Raw and compensated pressure, and the line of the allowance that the compensated one must stay above.
 *
 * @param of the one section to draw, where several would stand too far apart for a drop to be seen; null: all
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
      label: several ? `${one.channel} as read` : 'as read',
      token: holding ? '--raw' : tokens[i % 2],
      width: holding ? 1 : 2,
    })),
    ...(holding
      ? sections.map((one, i) => ({
          label: sections.length > 1 ? `${one} compensated` : 'compensated',
          token: tokens[i % 2],
          width: 2.5,
        }))
      : []),
  ]
  let starts: readonly (number | null)[] = []

  const view = (): ChartView => {
    const display = pressure()
    const nowS = bench.peek()?.nowS ?? 0
    const fromS = close ? run.holdStartS! : Math.max(0, (run.pumpUpS ?? nowS - 60) - 5)
    // The vent would flatten everything before it: the close view ends where it begins.
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
      startOf(run, raw[pressures.findIndex((other) => other.section === one)], steady[i]),
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
  /** Signed: a hold under vacuum may rise. */
  const allowance = (slope: number): number =>
    run.allowanceDropPa * slope * (run.spec && run.spec.pressurePa < 0 ? -1 : 1)

  const over = (plot: uPlot): void => {
    const display = pressure()
    if (holding) {
      for (const start of starts)
        if (start !== null) drawAllowance(plot, run, start, allowance(display.slope))
    }
    if (!close && run.spec) drawLevel(plot, run.spec.pressurePa * display.slope, '--accent', 'to hold')
    const limit = limitPa(
      run.spec,
      run.sections.filter((one) => sections.includes(one.id)),
    )
    if (!close && limit !== null)
      drawLevel(plot, limit * display.slope, '--fail', limit < 0 ? 'deepest' : 'maximum')
    drawMarks(plot, bench.peek()?.marks ?? [])
  }

  return (
    <section
      class="panel chart-panel"
      aria-label={of === null ? 'Pressure chart' : `Pressure chart of ${of}`}
    >
      <TimeChart
        label={of === null ? 'Pressure' : `Pressure of ${of}`}
        unit={pressure().symbol}
        decimals={pressure().decimals + 1}
        lines={lines}
        follow={() => {
          whole.value
          pressure()
        }}
        stream={() => {
          drawn.value
          compensated.value
        }}
        view={view}
        over={over}
      />
      {holding && (
        <Segmented
          legend={of === null ? 'Span of the chart' : `Span of the chart of ${of}`}
          quietLegend
          options={[
            { value: 'close', word: 'The hold' },
            { value: 'whole', word: 'From pump-up' },
          ]}
          value={whole.value}
          onPick={(value) => {
            whole.value = value
          }}
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

function drawAllowance(plot: uPlot, run: Running, start: number, allowed: number): void {
  const { ctx, bbox } = plot
  const lengthS = run.spec?.holdS ?? run.stageLengthS ?? 60
  const x0 = plot.valToPos(run.holdStartS!, 'x', true)
  const x1 = plot.valToPos(run.holdStartS! + lengthS, 'x', true)
  const y0 = plot.valToPos(start, 'y', true)
  const y1 = plot.valToPos(start - allowed, 'y', true)
  const edge = allowed >= 0 ? bbox.top + bbox.height : bbox.top
  ctx.save()
  ctx.beginPath()
  ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height)
  ctx.clip()
  ctx.beginPath()
  ctx.moveTo(x0, y0)
  ctx.lineTo(x1, y1)
  ctx.lineTo(x1, edge)
  ctx.lineTo(x0, edge)
  ctx.closePath()
  ctx.globalAlpha = 0.55
  ctx.globalCompositeOperation = 'destination-over'
  ctx.fillStyle = ink('--fail-wash')
  ctx.fill()
  ctx.globalCompositeOperation = 'source-over'
  ctx.globalAlpha = 1
  ctx.beginPath()
  ctx.moveTo(x0, y0)
  ctx.lineTo(x1, y1)
  ctx.strokeStyle = ink('--fail')
  ctx.lineWidth = 2 * devicePixelRatio
  ctx.setLineDash([8 * devicePixelRatio, 5 * devicePixelRatio])
  ctx.stroke()
  ctx.setLineDash([])
  ctx.fillStyle = ink('--fail')
  ctx.font = canvasFont(600)
  ctx.textAlign = 'right'
  ctx.textBaseline = allowed >= 0 ? 'top' : 'bottom'
  ctx.fillText(
    'allowance',
    Math.min(x1, bbox.left + bbox.width) - 6 * devicePixelRatio,
    y1 + (allowed >= 0 ? 7 : -7) * devicePixelRatio,
  )
  ctx.restore()
}

function drawLevel(plot: uPlot, value: number, token: string, word: string): void {
  const { ctx, bbox } = plot
  const y = plot.valToPos(value, 'y', true)
  if (y < bbox.top - 1 || y > bbox.top + bbox.height + 1) return
  ctx.save()
  ctx.strokeStyle = ink(token)
  ctx.fillStyle = ink(token)
  ctx.lineWidth = 2 * devicePixelRatio
  ctx.setLineDash([8 * devicePixelRatio, 5 * devicePixelRatio])
  ctx.beginPath()
  ctx.moveTo(bbox.left, y)
  ctx.lineTo(bbox.left + bbox.width, y)
  ctx.stroke()
  ctx.font = canvasFont(600)
  ctx.textAlign = 'right'
  ctx.textBaseline = 'bottom'
  ctx.fillText(word, bbox.left + bbox.width - 8 * devicePixelRatio, y - 4 * devicePixelRatio)
  ctx.restore()
}
