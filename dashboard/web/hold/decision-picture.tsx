import { useSignal } from '@preact/signals'
import { useEffect, useId, useRef } from 'preact/hooks'
import type { Estimate, Verdict } from '#analysis/model/hold-result.ts'
import type { LeakLook } from '#dashboard/api.ts'
import { ChartTable, rowsAtMost } from '../parts/chart-figures.tsx'
import { dropDraw, queueDraw } from '../parts/draw-queue.ts'
import { StateShape } from '../parts/state-mark.tsx'
import { clock, digits, leakDecimals, pressure, pressureDifference } from '../quantity.ts'

interface Props {
  readonly looks: readonly LeakLook[]
  readonly allowanceDropPa: number
  /** Planned length of the hold, [s]. */
  readonly lengthS: number | null
  readonly verdict: Verdict | null
  readonly decidesInS: number | null
}

/** An interval that is not yet bounded arrives as null. */
const bound = (value: number | null, otherwise: number): number =>
  value === null || !Number.isFinite(value) ? otherwise : value

/** Looks nearer to each other than this are drawn as one, [px]. */
const pointPx = 3

const intervalLines = [{ label: 'leak' }, { label: 'at least' }, { label: 'at most' }] as const

/** Steps that divide an axis into three to six parts. */
function ticks(low: number, high: number): number[] {
  const rough = (high - low) / 4
  const power = 10 ** Math.floor(Math.log10(rough))
  const step = [1, 2, 2.5, 5, 10].map((one) => one * power).find((one) => one >= rough) ?? rough
  const all: number[] = []
  for (let at = Math.ceil(low / step) * step; at <= high + step * 1e-9; at += step) all.push(at)
  return all
}

/**
 * The decision as it comes: the interval of the leak narrows from the left until it lies wholly on one side of the
 * allowance. Above the line the system leaks more than allowed, below it holds.
 */
export function DecisionPicture(props: Props) {
  const box = useRef<HTMLDivElement>(null)
  const frame = useId()
  const size = useSignal({ width: 480, height: 300, rem: 16 })
  useEffect(() => {
    const host = box.current!
    const sizes = new ResizeObserver(() => {
      size.value = {
        // Before it is laid out it has no width, and a picture of none would have sides the wrong way round.
        width: Math.max(160, host.clientWidth),
        height: Math.max(120, host.clientHeight),
        rem: Number.parseFloat(getComputedStyle(document.documentElement).fontSize),
      }
    })
    sizes.observe(host)
    return () => sizes.disconnect()
  }, [])

  const { width, height, rem } = size.value
  const { allowanceDropPa: allowance } = props
  const looks = useTurn(props.looks)
  const last = looks.at(-1)
  const unit = pressure()
  const left = rem * 3.3
  const right = width - rem * 1.3
  const top = rem * 0.5
  const bottom = height - rem * 1.7

  const ends = Math.max(props.lengthS ?? 0, (last?.atS ?? 0) * 1.04, 60)
  const decidesAt = last && props.decidesInS !== null ? last.atS + props.decidesInS : null
  const untilS = Math.max(ends, Math.min(decidesAt ?? 0, ends * 1.5))
  const newestHigh = last ? bound(last.dropPa.high, allowance * 2) : allowance * 2
  const newestLow = last ? bound(last.dropPa.low, 0) : 0
  const yHigh = Math.min(Math.max(allowance * 2, newestHigh * 1.15), allowance * 6)
  const yLow = Math.max(Math.min(-allowance * 0.35, newestLow * 1.15), -allowance * 2)
  const x = (s: number): number => left + ((right - left) * s) / untilS
  const y = (pa: number): number =>
    // Far outside the picture is cut off by its frame, but must stay a number.
    top + ((bottom - top) * (yHigh - Math.min(yHigh * 9, Math.max(yHigh * -9, pa)))) / (yHigh - yLow)

  // A tenth of a pixel; rounding is quicker than fixed decimals, and these are thousands.
  const short = (at: number): number => Math.round(at * 10) / 10
  let nextX = left
  const apart = looks.filter(({ atS }, i) => {
    if (i < looks.length - 1 && x(atS) < nextX) return false
    nextX = x(atS) + pointPx
    return true
  })
  // The first look has a breadth: its point alone would show a leak without saying how little is known of it.
  const drawn = apart.length === 1 ? [apart[0], apart[0]] : apart
  const across = drawn.map((one, i) => short(x(one.atS) + (apart.length === 1 ? (i - 0.5) * rem : 0)))
  const line = (pa: (drop: Estimate) => number): string[] =>
    drawn.map(({ dropPa }, i) => `${across[i]} ${short(y(pa(dropPa)))}`)
  const upper = line(({ high }) => bound(high, yHigh * 9))
  const lower = line(({ low }) => bound(low, -yHigh * 9))
  const path = (points: readonly string[]): string => `M${points.join('L')}`
  const between = (fromS: number, fromPa: number, toS: number, toPa: number): string =>
    `M${short(x(fromS))} ${short(y(fromPa))}L${short(x(toS))} ${short(y(toPa))}`

  const timeTicks = ticks(0, untilS / 60).map((minutes) => minutes * 60)
  const dropTicks = ticks(yLow * unit.slope, yHigh * unit.slope)
  const step = dropTicks.length > 1 ? dropTicks[1] - dropTicks[0] : 1
  const decimals = Math.max(0, Math.ceil(-Math.log10(step) - 1e-9))

  const ahead =
    last && decidesAt !== null && decidesAt > last.atS && props.verdict === null
      ? aheadOf(last, decidesAt, allowance)
      : null
  const told = last ? leakDecimals(last.dropPa, allowance) : unit.decimals
  const text = (pa: number | null): string => pressureDifference(pa, told)
  const said = last
    ? `Leak ${text(last.dropPa.value)} over the hold, between ${text(last.dropPa.low)} and ${text(last.dropPa.high)}; ${text(allowance)} is allowed.`
    : 'No estimate yet.'
  const every = Math.max(1, Math.ceil(looks.length / rowsAtMost))
  const rows = looks
    .filter((_, i) => (looks.length - 1 - i) % every === 0)
    .map(({ atS, dropPa }) => ({
      time: clock(atS),
      values: [dropPa.value, dropPa.low, dropPa.high].map((pa) =>
        digits(pa === null ? null : pa * unit.slope, told),
      ),
    }))

  return (
    <figure class="decision">
      <figcaption>
        <span class="chart-title">
          Leak against the allowance <span class="unit">{unit.symbol} over the hold</span>
        </span>
      </figcaption>
      <div ref={box} class="decision-box">
        <svg viewBox={`0 0 ${width} ${height}`} role="img" aria-label={said}>
          <clipPath id={frame}>
            <rect x={left} y={top} width={right - left} height={bottom - top} />
          </clipPath>
          <rect class="zone-over" x={left} y={top} width={right - left} height={y(allowance) - top} />
          <rect
            class="zone-under"
            x={left}
            y={y(allowance)}
            width={right - left}
            height={bottom - y(allowance)}
          />
          {dropTicks.map((at) => (
            <g key={at}>
              <line class="grid" x1={left} x2={right} y1={y(at / unit.slope)} y2={y(at / unit.slope)} />
              <text
                class="tick"
                x={left - 7}
                y={y(at / unit.slope)}
                text-anchor="end"
                dominant-baseline="middle"
              >
                {digits(at, decimals)}
              </text>
            </g>
          ))}
          {timeTicks.map((at) => (
            <text key={at} class="tick" x={x(at)} y={height - rem * 0.45} text-anchor="middle">
              {clock(at)}
            </text>
          ))}
          {last && (
            <g clip-path={`url(#${frame})`}>
              <path class="interval" d={`${path(upper.concat([...lower].reverse()))}Z`} />
              <path class="interval-edge" d={path(upper)} />
              <path class="interval-edge" d={path(lower)} />
              <path class="estimate" d={path(line(({ value }) => value))} />
            </g>
          )}
          {last && ahead && (
            <>
              <path
                class="ahead"
                d={between(last.atS, bound(last.dropPa.high, yHigh), ahead.atS, ahead.high)}
              />
              <path class="ahead" d={between(last.atS, bound(last.dropPa.low, yLow), ahead.atS, ahead.low)} />
              {ahead.atS <= untilS && (
                <line
                  class="decides-at"
                  x1={x(ahead.atS)}
                  x2={x(ahead.atS)}
                  y1={y(ahead.high) - 9}
                  y2={y(ahead.low) + 9}
                />
              )}
            </>
          )}
          <text class="zone-word over" x={right - 6} y={top + rem * 1.15} text-anchor="end">
            leaks more than allowed
          </text>
          <text class="zone-word under" x={right - 6} y={bottom - rem * 0.6} text-anchor="end">
            holds
          </text>
          <line class="allowance" x1={left} x2={right} y1={y(allowance)} y2={y(allowance)} />
          <text class="allowance-word" x={right - 4} y={y(allowance) - rem * 0.4} text-anchor="end">
            allowance {digits(allowance * unit.slope, unit.decimals)}
          </text>
          {last && (
            <g
              transform={`translate(${x(last.atS).toFixed(1)} ${Math.min(bottom, Math.max(top, y(last.dropPa.value))).toFixed(1)})`}
            >
              {props.verdict === null || props.verdict === 'undecided' ? (
                <circle class="now" r={rem * 0.34} />
              ) : (
                <g class={`is-${props.verdict} tip`}>
                  <circle class="tip-ground" r="13" />
                  <StateShape state={props.verdict} />
                </g>
              )}
            </g>
          )}
        </svg>
      </div>
      <ChartTable
        label="Leak against the allowance"
        unit={`${unit.symbol} over the hold`}
        lines={intervalLines}
        figures={{ summary: said, rows }}
      />
    </figure>
  )
}

/** Where the nearer bound meets the allowance, drawn as a promise, not as data. */
function aheadOf(last: LeakLook, atS: number, allowance: number): { atS: number; low: number; high: number } {
  const { value } = last.dropPa
  const reach = Math.abs(allowance - value)
  return { atS, low: value - reach, high: value + reach }
}

/** The newest value, a frame or a few later: what draws much of it takes its turn with the charts. */
function useTurn<T>(newest: T): T {
  const shown = useSignal(newest)
  useEffect(() => {
    const show = (): void => {
      shown.value = newest
    }
    if (shown.peek() !== newest) queueDraw(show)
    return () => void dropDraw(show)
  }, [newest])
  return shown.value
}
