import { useSignal } from '@preact/signals'
import { useEffect, useRef } from 'preact/hooks'
import { type Channel, isSectionPressure } from '#analysis/model/system.ts'
import { t } from '#analysis/reasons/language.ts'
import type { MinMaxColumns, RecordMarks } from '#dashboard/api.ts'
import { system } from '../live/bench.ts'
import { LiveTrace } from '../live/live-trace.ts'
import { traceFrom } from '../live/traces.ts'
import { Pending } from '../parts/facts.tsx'
import { Button } from '../parts/fields.tsx'
import { type ChartColumns, noColumns } from '../parts/line-path.ts'
import { drawMarks } from '../parts/marks-layer.ts'
import { TimeChart } from '../parts/time-chart.tsx'
import { useAnswer } from '../parts/use-answer.ts'
import { clock, type Display, displayOf } from '../quantity.ts'

/** Low and high of each slice as one line, with gaps where the logger sent nothing. */
function asLine(columns: MinMaxColumns, { slope, offset }: Display): ChartColumns {
  const steps = columns.timeS.slice(1).map((at, i) => at - columns.timeS[i]!)
  const typicalS = steps.sort((a, b) => a - b)[steps.length >> 1] ?? 1
  // Slightly less than a step, so that no two slices merge.
  return traceFrom(columns, new LiveTrace(0.9 * typicalS, null)).columns(0, slope, offset)
}

/** Start and end of a channel; the time of a slice is its middle. */
function endsOf({ timeS, low, high }: MinMaxColumns): number[] {
  const [first, second = first, last = first] = [timeS[0], timeS[1], timeS.at(-1)]
  if (first === undefined || second === undefined || last === undefined) return []
  const half = low.some((one, i) => one !== high[i]) ? (second - first) / 2 : 0
  return [Math.max(0, first - half), last + half]
}

/** Most slices that a screen can show; the server sends no more, however long the record is. */
const POINTS = 1400

/** Effect of the buttons on the visible range: its length factor, and its shift as a share of it. */
const zooms = [
  [t`Earlier`, 1, -0.5],
  [t`Closer`, 0.4, 0],
  [t`Wider`, 2.5, 0],
  [t`Later`, 1, 0.5],
] as const

/**
 * Every channel of the recording. A drag over a chart, or a button, requests the visible range from the server,
 * down to single samples.
 */
export function RecordChart(props: {
  readonly id: string
  readonly sections: readonly string[]
  readonly marks?: RecordMarks['marks']
  /** The first answer has arrived or failed. */
  readonly onOpened?: () => void
}) {
  const { id, sections, onOpened, marks = [] } = props
  const part = useSignal<readonly [number, number] | null>(null)
  const whole = useRef<readonly [number, number] | null>(null)
  const range = part.value
  const query = range === null ? '' : `from=${range[0]}&to=${range[1]}&`
  const answer = useAnswer<readonly MinMaxColumns[]>(
    `/api/records/${encodeURIComponent(id)}/columns?${query}points=${POINTS}`,
  )
  const { value: columns, error } = answer.value
  const ends = (columns ?? []).flatMap(endsOf)
  if (ends.length > 0) whole.current ??= [Math.min(...ends), Math.max(...ends)]
  const isOpened = columns !== null || error !== null
  useEffect(() => {
    if (isOpened) onOpened?.()
  }, [isOpened])

  const view = () => part.value ?? whole.current ?? ([0, 1] as const)
  const move = (factor: number, shift: number): void => {
    const [from, to] = view()
    const [first, last] = whole.current ?? [from, to]
    const middle = (from + to) / 2 + (to - from) * shift
    const half = Math.max(0.5, ((to - from) / 2) * factor)
    if (half * 2 >= last - first) part.value = null
    else {
      const start = Math.min(Math.max(first, middle - half), last - 2 * half)
      part.value = [start, start + 2 * half]
    }
  }
  const channel = (name: string): Channel | undefined => system.value?.channels.find((one) => one.id === name)
  const all = (columns ?? []).filter((one) => one.timeS.length > 0)
  // Channels of other sections would be a distraction.
  const own = all.filter((one) => {
    const known = channel(one.channel)
    return known === undefined || known.section === null || sections.includes(known.section)
  })
  const shown = own.length === 0 ? all : own
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
          {zooms.map(([word, factor, shift]) => (
            <Button key={word} disabled={factor > 1 && range === null} onClick={() => move(factor, shift)}>
              {word}
            </Button>
          ))}
          <Button
            disabled={range === null}
            onClick={() => {
              part.value = null
            }}
          >
            All of it
          </Button>
        </fieldset>
      </div>
      <Pending of={answer.value} />
      {shown.map((one) => {
        const measures = channel(one.channel)?.measures ?? guess(one.channel, one)
        const isPressure = isSectionPressure(measures)
        const display = displayOf(measures)
        return (
          <TimeChart
            key={one.channel}
            look={isPressure ? '' : 'is-short'}
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
            view={() => {
              const newest = answer.peek().value?.find((other) => other.channel === one.channel)
              return {
                columns: [newest ? asLine(newest, displayOf(measures)) : noColumns],
                x: view(),
                y: null,
                zeroS: 0,
              }
            }}
            over={isPressure ? (brush) => drawMarks(brush, marks) : undefined}
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

/** A record may have channels that the current system file no longer names: classify them by name and size. */
function guess(name: string, columns: MinMaxColumns): string {
  const middle = columns.low[columns.low.length >> 1] ?? 0
  if (/^t|temp/i.test(name) && middle > 200 && middle < 400) return 'temperature'
  if (/baro|atm/i.test(name)) return 'barometric-pressure'
  return 'gauge-pressure'
}
