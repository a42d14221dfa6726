import { effect, signal } from '@preact/signals'
import { useEffect, useRef } from 'preact/hooks'
import uPlot from 'uplot'
import 'uplot/dist/uPlot.min.css'
import { look } from '../look.ts'
import { digits } from '../quantity.ts'
import { numberLabels, timeLabels, timeSplits, timeSteps } from './axis.ts'
import { ink } from './ink.ts'

export interface ChartLine {
  readonly label: string
  /** Colour token. */
  readonly token: string
  readonly width: number
  readonly dash?: readonly number[]
}

export interface ChartColumns {
  readonly x: readonly number[]
  readonly y: readonly (number | null)[]
}

export interface ChartView {
  /** One table a line, each with its own times. */
  readonly columns: readonly ChartColumns[]
  readonly x: readonly [number, number]
  /** Null: fit the data. */
  readonly y: readonly [number, number] | null
  readonly zeroS: number
}

interface Props {
  readonly label: string
  readonly unit: string
  readonly lines: readonly ChartLine[]
  readonly decimals: number
  /** Runs in an effect: what it reads makes the chart draw again. */
  readonly follow: () => void
  /** Runs once a drawn frame at most. */
  readonly view: () => ChartView
  /** Drawn over the lines: allowance, marks. */
  readonly over?: (plot: uPlot) => void
  readonly onZoom?: (fromS: number, toS: number) => void
  readonly short?: boolean
}

/** Size of the page's type, [px]; a chart is built anew when it changes, for a canvas cannot follow by itself. */
const rootSize = (): number => Number.parseFloat(getComputedStyle(document.documentElement).fontSize)
const remPx = signal(rootSize())
addEventListener('resize', () => {
  remPx.value = rootSize()
})

const font = (): string => {
  return `${Math.round(remPx.peek() * 0.8)}px "IBM Plex Sans", sans-serif`
}

/** Lines over time on a canvas; the numbers under the pointer stand in the legend. */
export function TimeChart(props: Props) {
  const box = useRef<HTMLDivElement>(null)
  const readout = useRef<HTMLOutputElement>(null)
  const latest = useRef(props)
  latest.current = props
  const shape = props.lines.map((one) => one.label + one.token).join('|') + props.unit + remPx.value

  useEffect(() => {
    const host = box.current!
    let zero = 0
    let range: ChartView | null = null
    let frame = 0
    const rem = remPx.peek()

    const options: uPlot.Options = {
      width: Math.max(50, host.clientWidth),
      height: Math.max(50, host.clientHeight),
      legend: { show: false },
      cursor: {
        drag: { x: props.onZoom !== undefined, y: false, setScale: false },
        points: { size: 7 },
        y: false,
      },
      scales: {
        x: { time: false, range: () => (range === null ? [0, 1] : [range.x[0], range.x[1]]) },
        y: {
          range: (_, low, high) => {
            if (range?.y) return [range.y[0], range.y[1]]
            if (low === null || high === null || !Number.isFinite(low)) return [0, 1]
            const pad = Math.max(
              (high - low) * 0.12,
              Math.abs(high) * 1e-6,
              10 ** -latest.current.decimals * 4,
            )
            return [low - pad, high + pad]
          },
        },
      },
      axes: [
        {
          stroke: () => ink('--ink-soft'),
          grid: { stroke: () => ink('--grid'), width: 1 },
          ticks: { stroke: () => ink('--grid'), size: 4, width: 1 },
          font: font(),
          incrs: timeSteps,
          splits: timeSplits(() => zero),
          values: timeLabels(() => zero),
          space: rem * 4.4,
          size: rem * 1.9,
        },
        {
          stroke: () => ink('--ink-soft'),
          grid: { stroke: () => ink('--grid'), width: 1 },
          ticks: { show: false },
          font: font(),
          values: numberLabels,
          space: rem * (props.short ? 1.5 : 2.4),
          size: rem * 3.9,
          gap: 6,
        },
      ],
      series: [
        {},
        ...props.lines.map((one) => ({
          label: one.label,
          stroke: () => ink(one.token),
          width: one.width,
          ...(one.dash ? { dash: [...one.dash] } : {}),
          points: { show: false },
        })),
      ],
      hooks: {
        draw: [(plot) => latest.current.over?.(plot)],
        setCursor: [
          (plot) => {
            const out = readout.current
            if (out === null) return
            const at = plot.cursor.idx
            if (at === null || at === undefined) {
              out.textContent = ''
              return
            }
            const when = timeLabels(() => zero)(plot, [plot.data[0][at]], 0, 0, 0.1)[0]
            const values = latest.current.lines.map((one, i) => {
              const column = plot.data[i + 1]
              let near = at
              while (near > 0 && column[near] === undefined) near--
              return `${one.label} ${digits(column[near], latest.current.decimals)}`
            })
            out.textContent = `${when} · ${values.join(' · ')} ${latest.current.unit}`
          },
        ],
        setSelect: [
          (plot) => {
            if (plot.select.width < 4) return
            const from = plot.posToVal(plot.select.left, 'x')
            const to = plot.posToVal(plot.select.left + plot.select.width, 'x')
            plot.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false)
            latest.current.onZoom?.(from, to)
          },
        ],
      },
    }
    const plot = new uPlot(options, [[0], ...props.lines.map(() => [null])] as uPlot.AlignedData, host)

    let first = true
    const draw = (): void => {
      frame = 0
      first = false
      range = latest.current.view()
      zero = range.zeroS
      const tables = range.columns.map((one) => [one.x, one.y] as unknown as uPlot.AlignedData)
      // The lines were changed since: the chart that follows draws them. And of no lines there is nothing to join.
      if (tables.length === 0 || tables.length !== plot.series.length - 1) return
      plot.setData(tables.length === 1 ? tables[0] : uPlot.join(tables), true)
    }
    // Small charts are looked at less: twice a second, and not in the frame of the large one.
    let rest: ReturnType<typeof setTimeout> | undefined
    const ask = (): void => {
      if (frame !== 0 || rest !== undefined) return
      if (first || !latest.current.short) frame = requestAnimationFrame(draw)
      else {
        rest = setTimeout(() => {
          rest = undefined
          frame = requestAnimationFrame(draw)
        }, 500)
      }
    }
    const stop = effect(() => {
      look.value
      latest.current.follow()
      ask()
    })
    const sizes = new ResizeObserver(() => {
      plot.setSize({ width: Math.max(50, host.clientWidth), height: Math.max(50, host.clientHeight) })
      ask()
    })
    sizes.observe(host)
    return () => {
      stop()
      sizes.disconnect()
      cancelAnimationFrame(frame)
      clearTimeout(rest)
      plot.destroy()
    }
  }, [shape])

  return (
    <figure class={`chart ${props.short ? 'is-short' : ''}`}>
      <figcaption>
        <span class="chart-title">
          {props.label} <span class="unit">{props.unit}</span>
        </span>
        {props.lines.length > 1 && (
          <span class="keys">
            {props.lines.map((one) => (
              <span key={one.label} class="key">
                <svg viewBox="0 0 24 8" aria-hidden="true" class={`ink${one.token}`}>
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
        <output ref={readout} class="readout" aria-live="off" />
      </figcaption>
      <div ref={box} class="plot" role="img" aria-label={`${props.label} over time`} />
    </figure>
  )
}
