import { useSignal } from '@preact/signals'
import { useEffect, useRef } from 'preact/hooks'
import type { LevelResult } from '#analysis/fuel-work/calibrate-level.ts'
import { digits, volume, withUnit } from '../quantity.ts'

const [height, left, bottom] = [340, 60, 34]

/** Reading over usable fuel: rising triangles while filling, falling ones while drawing off, crosses left out. */
export function LevelPicture({ result }: { result: LevelResult }) {
  const box = useRef<HTMLDivElement>(null)
  const room = useSignal(720)
  useEffect(() => {
    const host = box.current
    const sizes = new ResizeObserver(() => {
      room.value = Math.max(200, host!.clientWidth)
    })
    if (host) sizes.observe(host)
    return () => sizes.disconnect()
  }, [])
  const width = room.value
  const { points, rejected, steps_level: steps } = result
  const fuel = [...points, ...rejected].map(({ usable_L }) => usable_L)
  const readings = [...points, ...rejected].flatMap(({ reading }) => (reading === null ? [] : [reading]))
  if (readings.length < 2) return null
  const [fuelLow, fuelHigh] = [Math.min(0, ...fuel), Math.max(...fuel)]
  const [low, high] = [Math.min(...readings), Math.max(...readings)]
  const x = (liters: number): number =>
    left + ((width - left - 20) * (liters - fuelLow)) / (fuelHigh - fuelLow || 1)
  const y = (reading: number): number => 14 + ((height - bottom - 28) * (high - reading)) / (high - low || 1)
  const said = `Readings from ${digits(readings[0], 1)} to ${digits(readings.at(-1), 1)} ${result.reading_unit} over ${withUnit(fuelHigh / 1000, volume(), 1)}.`
  const read = steps.filter((step) => step.reading !== null)
  return (
    <figure class="chart">
      <figcaption>
        <span class="chart-title">
          Reading{' '}
          <span class="unit">{result.reading_unit} over the usable fuel, step by step of the gauge</span>
        </span>
        <span class="keys">△ filling ▽ drawing off × left out ○ step</span>
      </figcaption>
      <div ref={box}>
        <svg viewBox={`0 0 ${width} ${height}`} width={width} height={height} role="img" aria-label={said}>
          {steps.map((step) => (
            <g key={step.step}>
              <line
                x1={x(step.usable_L)}
                x2={x(step.usable_L)}
                y1={14}
                y2={height - bottom}
                stroke="var(--line)"
              />
              <text
                x={x(step.usable_L)}
                y={height - 12}
                text-anchor="middle"
                font-size="13"
                fill="currentColor"
              >
                {step.step}
              </text>
            </g>
          ))}
          {[low, (low + high) / 2, high].map((at) => (
            <text key={at} x={left - 8} y={y(at) + 4} text-anchor="end" font-size="13" fill="currentColor">
              {digits(at, 0)}
            </text>
          ))}
          <path
            d={`M${read.map((s) => `${x(s.usable_L)} ${y(s.reading!)}`).join('L')}`}
            fill="none"
            stroke="var(--line-a)"
            stroke-width="2"
          />
          {points.map((point, i) => {
            const turn = point.direction === 'up' ? -1 : 1
            const [a, b] = [x(point.usable_L), y(point.reading)]
            return (
              <path
                key={i}
                d={`M${a - 5} ${b - 4 * turn}L${a + 5} ${b - 4 * turn}L${a} ${b + 5 * turn}Z`}
                fill="none"
                stroke="var(--raw)"
                stroke-width="1.6"
              />
            )
          })}
          {rejected.map((point, i) =>
            point.reading === null ? null : (
              <path
                key={i}
                d={`M${x(point.usable_L) - 5} ${y(point.reading) - 5}l10 10m0 -10l-10 10`}
                stroke="var(--fail)"
                stroke-width="2.4"
              />
            ),
          )}
          {read.map((step) => (
            <circle
              key={step.step}
              cx={x(step.usable_L)}
              cy={y(step.reading!)}
              r="4"
              fill="var(--surface)"
              stroke="var(--line-a)"
              stroke-width="2"
            />
          ))}
        </svg>
      </div>
    </figure>
  )
}
