import { useSignal } from '@preact/signals'
import { useEffect } from 'preact/hooks'
import { type Channel, isSectionPressure } from '#analysis/model/system.ts'
import type { MinMaxColumns, RecordMarks } from '#dashboard/api.ts'
import { get } from '../api-client.ts'
import { returns, system } from '../live/bench.ts'
import { type ChartColumns, noColumns } from '../parts/line-path.ts'
import { drawMarks } from '../parts/marks-layer.ts'
import { TimeChart } from '../parts/time-chart.tsx'
import { clock, type Display, displayOf } from '../quantity.ts'

/** Low and high of each slice as one line, with a null where the logger said nothing. */
function asLine(columns: MinMaxColumns, display: Display): ChartColumns {
  const x: number[] = []
  const y: (number | null)[] = []
  const { timeS, low, high } = columns
  const steps = timeS.slice(1).map((at, i) => at - timeS[i])
  const typical = [...steps].sort((a, b) => a - b)[steps.length >> 1] ?? 1
  for (let i = 0; i < timeS.length; i++) {
    if (i > 0 && steps[i - 1] > 6 * typical) {
      x.push(timeS[i] - 1e-6)
      y.push(null)
    }
    x.push(timeS[i])
    y.push(low[i] * display.slope + display.offset)
    if (high[i] !== low[i]) {
      x.push(timeS[i] + typical * 0.4)
      y.push(high[i] * display.slope + display.offset)
    }
  }
  return { x, y }
}

/** Where a channel begins and ends; a slice stands at its middle. */
function endsOf({ timeS, low, high }: MinMaxColumns): number[] {
  if (timeS.length === 0) return []
  const sliced = timeS.length > 1 && low.some((one, i) => one !== high[i])
  const half = sliced ? (timeS[1] - timeS[0]) / 2 : 0
  return [Math.max(0, timeS[0] - half), timeS.at(-1)! + half]
}

/** Slices that a screen can show; the server sends no more, however long the record is. */
const POINTS = 1400

/**
 * Everything the recording holds, channel by channel. A drag over a chart, or the buttons, asks the server for the
 * part in view, down to single samples.
 */
export function RecordChart(props: {
  readonly id: string
  readonly sections: readonly string[]
  readonly marks?: RecordMarks['marks']
  /** The first answer is there, or is none. */
  readonly onOpened?: () => void
}) {
  const { id, sections, onOpened, marks = [] } = props
  const part = useSignal<readonly [number, number] | null>(null)
  const others = useSignal(false)
  const whole = useSignal<readonly [number, number] | null>(null)
  const columns = useSignal<readonly MinMaxColumns[]>([])
  const error = useSignal<string | null>(null)
  const range = part.value
  useEffect(() => {
    let wanted = true
    const query = range === null ? '' : `from=${range[0]}&to=${range[1]}&`
    get<readonly MinMaxColumns[]>(
      `/api/records/${encodeURIComponent(id)}/columns?${query}points=${POINTS}`,
    ).then(
      (answer) => {
        if (!wanted) return
        columns.value = answer
        error.value = null
        if (range === null) {
          const ends = answer.flatMap(endsOf)
          if (ends.length > 0) whole.value = [Math.min(...ends), Math.max(...ends)]
          onOpened?.()
        }
      },
      (reason: Error) => {
        if (!wanted) return
        error.value = reason.message
        onOpened?.()
      },
    )
    return () => {
      wanted = false
    }
  }, [id, range, returns.value])

  const view = (): readonly [number, number] => part.value ?? whole.value ?? [0, 1]
  const move = (factor: number, shift: number): void => {
    const [from, to] = view()
    const [first, last] = whole.value ?? [from, to]
    const middle = (from + to) / 2 + (to - from) * shift
    const half = Math.max(0.5, ((to - from) / 2) * factor)
    if (half * 2 >= last - first) part.value = null
    else {
      const start = Math.min(Math.max(first, middle - half), last - 2 * half)
      part.value = [start, start + 2 * half]
    }
  }
  const channel = (name: string): Channel | undefined => system.value?.channels.find((one) => one.id === name)
  const all = columns.value.filter((one) => one.timeS.length > 0)
  // What was recorded beside the hold is a click away, not in the way.
  const own = all.filter((one) => {
    const known = channel(one.channel)
    return known === undefined || known.section === null || sections.includes(known.section)
  })
  const shown = others.value || own.length === 0 ? all : own
  const [from, to] = view()
  return (
    <section class="panel stack" aria-label="Recording">
      <div class="row spread">
        <h2>
          Recording{' '}
          <span class="unit">
            {clock(from)} to {clock(to)}
          </span>
        </h2>
        <fieldset class="row zoom">
          <legend class="unseen">Zoom</legend>
          <button type="button" onClick={() => move(1, -0.5)}>
            Earlier
          </button>
          <button type="button" onClick={() => move(0.4, 0)}>
            Closer
          </button>
          <button type="button" onClick={() => move(2.5, 0)} disabled={range === null}>
            Wider
          </button>
          <button type="button" onClick={() => move(1, 0.5)}>
            Later
          </button>
          <button
            type="button"
            disabled={range === null}
            onClick={() => {
              part.value = null
            }}
          >
            All of it
          </button>
        </fieldset>
      </div>
      {error.value && <p class="note is-undecided">{error.value}</p>}
      {shown.map((one) => {
        const measures = channel(one.channel)?.measures ?? guess(one.channel, one)
        const isPressure = isSectionPressure(measures)
        const display = displayOf(measures)
        return (
          <TimeChart
            key={one.channel}
            short={!isPressure}
            label={one.channel}
            unit={display.symbol}
            decimals={display.decimals}
            lines={[
              {
                label: one.channel,
                token: isPressure ? '--line-a' : measures === 'temperature' ? '--temperature' : '--barometer',
                width: 1.4,
                dots: true,
              },
            ]}
            follow={() => {
              columns.value
              displayOf(measures)
            }}
            view={() => {
              const newest = columns.peek().find((other) => other.channel === one.channel)
              return {
                columns: [newest ? asLine(newest, displayOf(measures)) : noColumns],
                x: view(),
                y: null,
                zeroS: 0,
              }
            }}
            over={isPressure ? (plot) => drawMarks(plot, marks) : undefined}
            onZoom={(a, b) => {
              part.value = [a, b]
            }}
          />
        )
      })}
      <p class="small soft screen-only">
        Drag over a chart to look closer. Each slice shows its lowest and highest reading.
      </p>
    </section>
  )
}

/** A record may carry channels that today's system file no longer names: judge them by their size. */
function guess(name: string, columns: MinMaxColumns): string {
  const middle = columns.low[columns.low.length >> 1]
  if (/^t|temp/i.test(name) && middle > 200 && middle < 400) return 'temperature'
  if (/baro|atm/i.test(name)) return 'barometric-pressure'
  return 'gauge-pressure'
}
