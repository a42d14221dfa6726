import uPlot from 'uplot'
import { t } from '#analysis/reasons/language.ts'
import 'uplot/dist/uPlot.min.css'
import { effect, useSignal } from '@preact/signals'
import { useEffect, useRef } from 'preact/hooks'
import { digits } from '../quantity.ts'
import { theme } from '../theme.ts'
import { type Across, axisAcross, numberLabels, wordsAt } from './axis.ts'
import { type Brush, brushOn, ink, remPx } from './brush.ts'
import { type ChartFigures, ChartTable, type ChartView, figuresOf, valueAt } from './chart-figures.tsx'
import { type ChartLine, drawLines } from './draw-lines.ts'
import { dropDraw, queueDraw } from './draw-queue.ts'
import { extremes } from './line-path.ts'

interface Props {
  readonly label: string
  readonly unit: string
  readonly lines: readonly ChartLine[]
  readonly decimals: number
  /** Runs in an effect: it reads streamed signals, and the chart is redrawn when at least a pixel is new. */
  readonly stream?: () => void
  /** Runs at most once a drawn frame. */
  readonly view: () => ChartView
  /** Drawn over the lines: allowance, marks. */
  readonly over?: (brush: Brush) => void
  readonly across?: Across
  /** Text alternative, when the default for lines over time does not fit. */
  readonly figures?: ChartFigures
  /** Description of the picture, when it is not the label over time. */
  readonly said?: string
  readonly onZoom?: (fromS: number, toS: number) => void
  /** Extra class: `is-short` beside a larger chart. */
  readonly look?: string
}

/**
 * Interval between drawings of a stream, [ms]: less than a pixel of new data is invisible, and a chart without a change
 * for longer than the slowest looks stuck.
 */
const fastestMs = 100
const slowestMs = 500
/** Update interval of the text alternative, [ms]: slow, so that it does not change while a screen reader reads it. */
const describeEveryMs = 5000

/** Range of the data with a margin, and at least a few steps of the last decimal. */
function fitted(view: ChartView, decimals: number): [number, number] {
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  for (const one of view.columns) {
    const [lowest, highest] = extremes(one, view.x[0], view.x[1])
    low = Math.min(low, lowest)
    high = Math.max(high, highest)
  }
  if (low > high) return [0, 1]
  const pad = Math.max((high - low) * 0.12, Math.abs(high) * 1e-6, 10 ** -decimals * 4)
  return [low - pad, high + pad]
}

/** Lines over time on a canvas; the legend shows the numbers under the pointer. */
export function TimeChart(props: Props) {
  const box = useRef<HTMLDivElement>(null)
  const readout = useRef<HTMLOutputElement>(null)
  const latest = useRef(props)
  latest.current = props
  const askAgain = useRef(() => {})
  const figures = useSignal<ChartFigures | null>(null)
  const told = props.figures ?? figures.value
  const shape = `${props.unit} ${remPx.value} ${props.look}`

  useEffect(() => {
    const host = box.current!
    let zero = 0
    let range: ChartView | null = null
    /** Range of the value axis; fitted to the data when the view gives none. */
    let values: readonly [number, number] = [0, 1]
    const rem = remPx.peek()

    const { look, across = 'time', onZoom } = props
    const axis = {
      stroke: () => ink('--ink-soft'),
      grid: { stroke: () => ink('--grid'), width: 1 },
      font: `${Math.round(rem * 0.8)}px "Stillhold Sans", sans-serif`,
    }
    const size = () => ({
      width: Math.max(50, host.clientWidth),
      height: Math.max(50, host.clientHeight),
    })
    const read = (plot: uPlot): string => {
      const left = plot.cursor.left ?? -1
      if (range === null || left < 0) return ''
      const at = plot.posToVal(left, 'x')
      const { lines, decimals, unit } = latest.current
      const said = lines.map((one, i) => `${one.label} ${digits(valueAt(range!.columns[i], at), decimals)}`)
      return `${wordsAt(across, at, zero)} · ${said.join(' · ')} ${unit}`
    }
    const options: uPlot.Options = {
      ...size(),
      legend: { show: false },
      // Hours under the right edge need more room than minutes and seconds.
      padding: [null, () => rem * (range !== null && range.x[1] - zero >= 3600 ? 2 : 1.1), null, null],
      cursor: {
        drag: { x: onZoom !== undefined, y: false, setScale: false },
        points: { show: false },
        y: false,
      },
      scales: {
        x: { time: false, range: () => (range === null ? [0, 1] : [range.x[0], range.x[1]]) },
        y: { range: () => [values[0], values[1]] },
      },
      axes: [
        {
          ...axis,
          ...axisAcross(across, () => zero),
          ticks: { stroke: () => ink('--grid'), size: 4, width: 1 },
          space: rem * (across === 'day' ? 7 : 4.4),
          size: rem * 1.9,
        },
        {
          ...axis,
          ticks: { show: false },
          values: (_, splits, __, ___, step) => numberLabels(splits, step),
          space: rem * (look === 'is-short' ? 1.5 : 2.4),
          size: rem * 3.9,
          gap: 6,
        },
      ],
      // `drawLines` draws the lines, each from its own times: uPlot would need one joined table, sorted every frame.
      series: [{}, { paths: () => null, points: { show: false } }],
      hooks: {
        draw: [
          (plot) => {
            if (range !== null) drawLines(plot, range, latest.current.lines)
            latest.current.over?.(brushOn(plot))
          },
        ],
        setCursor: [
          (plot) => {
            if (readout.current) readout.current.textContent = read(plot)
          },
        ],
        setSelect: [
          (plot) => {
            const { left, width } = plot.select
            if (width < 4) return
            const [from, to] = [plot.posToVal(left, 'x'), plot.posToVal(left + width, 'x')]
            plot.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false)
            latest.current.onZoom?.(from, to)
          },
        ],
      },
    }
    const nothing = [0, 1]
    const plot = new uPlot(options, [nothing, nothing], host)

    let drawnAtMs = Number.NEGATIVE_INFINITY
    let describedAtMs = Number.NEGATIVE_INFINITY
    let pauseMs = 0
    let rest: ReturnType<typeof setTimeout> | undefined
    const draw = (): void => {
      clearTimeout(rest)
      rest = undefined
      drawnAtMs = performance.now()
      range = latest.current.view()
      zero = range.zeroS
      values = range.y ?? fitted(range, latest.current.decimals)
      if (latest.current.figures === undefined && drawnAtMs - describedAtMs > describeEveryMs) {
        describedAtMs = drawnAtMs
        const { lines, unit, decimals } = latest.current
        const labels = lines.map((one) => one.label)
        figures.value = figuresOf(range, labels, unit, decimals)
      }
      // Synchronous, not in a later task: the columns may be views of reused buffers.
      plot.batch(() => plot.setData([[...range!.x], [...values]]))
      const pixelS = ((range.x[1] - range.x[0]) * devicePixelRatio) / plot.bbox.width
      pauseMs =
        latest.current.look === 'is-short'
          ? slowestMs
          : Math.min(slowestMs, Math.max(fastestMs, (1000 * pixelS) / (range.speed ?? 1)))
    }
    const ask = (): void => queueDraw(draw)
    askAgain.current = ask
    const stop = effect(() => {
      theme.value
      ask()
    })
    const stopStream = effect(() => {
      latest.current.stream?.()
      if (Number.isFinite(drawnAtMs)) rest ??= setTimeout(ask, drawnAtMs + pauseMs - performance.now())
    })
    const sizes = new ResizeObserver(() => {
      plot.setSize(size())
      ask()
    })
    sizes.observe(host)
    return () => {
      stop()
      stopStream()
      sizes.disconnect()
      dropDraw(draw)
      clearTimeout(rest)
      plot.destroy()
    }
  }, [shape])
  // The props may change without a signal: another record in the same place.
  useEffect(() => askAgain.current())

  return (
    <figure class={`chart ${props.look ?? ''}`}>
      <figcaption class="line">
        <span class="chart-title">
          {props.label} <span class="unit">{props.unit}</span>
        </span>
        {props.lines.length > 1 && (
          <span class="keys line small soft">
            {props.lines.map((one) => (
              <span key={one.label} class="key">
                <svg viewBox="0 0 24 8" aria-hidden="true" style={{ stroke: `var(${one.token})` }}>
                  <path
                    d="M0 4H24"
                    stroke-width={one.width * 1.4}
                    {...(one.dash ? { 'stroke-dasharray': one.dash.join(' ') } : {})}
                  />
                </svg>
                {one.label}
              </span>
            ))}
          </span>
        )}
        <output ref={readout} class="readout small soft" aria-live="off" />
      </figcaption>
      <div ref={box} class="plot" role="img" aria-label={props.said ?? t`${props.label} over time`} />
      {told && <ChartTable label={props.label} unit={props.unit} lines={props.lines} figures={told} />}
    </figure>
  )
}
