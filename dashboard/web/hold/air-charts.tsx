import { bench } from '../live/bench.ts'
import { drawn, traceOf } from '../live/traces.ts'
import type { ChartView } from '../parts/chart-figures.tsx'
import { noColumns } from '../parts/line-path.ts'
import { TimeChart } from '../parts/time-chart.tsx'
import { barometer, type Display, temperature } from '../quantity.ts'
import type { Running } from './running.ts'

function viewOf(channels: readonly string[], display: Display, run: Running): ChartView {
  const nowS = bench.peek()?.nowS ?? 0
  const fromS = run.holdStartS ?? Math.max(0, (run.pumpUpS ?? nowS - 60) - 5)
  const lengthS = run.holdStartS === null ? 60 : (run.spec?.holdS ?? 60)
  return {
    columns: channels.map((one) => traceOf(one)?.columns(fromS, display.slope, display.offset) ?? noColumns),
    x: [fromS, fromS + Math.max(lengthS, nowS - fromS) * 1.02],
    y: null,
    zeroS: run.holdStartS ?? run.pumpUpS ?? fromS,
  }
}

/** Temperature and atmosphere: what else moves the needle. */
export function AirCharts({ run }: { run: Running }) {
  const warm = temperature()
  const air = barometer()
  return (
    <section class="panel air-charts" aria-label="Temperature and atmosphere">
      {run.temperatures.length > 0 && (
        <TimeChart
          short
          label="Temperature"
          unit={warm.symbol}
          decimals={2}
          lines={run.temperatures.map((one, i) => ({
            label: one,
            token: i === 0 ? '--temperature' : '--raw',
            width: 1.6,
          }))}
          follow={temperature}
          stream={() => drawn.value}
          view={() => viewOf(run.temperatures, temperature(), run)}
        />
      )}
      {run.barometer !== null && (
        <TimeChart
          short
          label="Atmosphere"
          unit={air.symbol}
          decimals={air.decimals}
          lines={[{ label: run.barometer, token: '--barometer', width: 1.6 }]}
          follow={barometer}
          stream={() => drawn.value}
          view={() => viewOf([run.barometer!], barometer(), run)}
        />
      )}
    </section>
  )
}
