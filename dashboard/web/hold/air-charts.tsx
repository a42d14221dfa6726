import { t } from '#analysis/reasons/language.ts'
import { bench } from '../live/bench.ts'
import { drawn, traceOf } from '../live/traces.ts'
import { noColumns } from '../parts/line-path.ts'
import { TimeChart } from '../parts/time-chart.tsx'
import { barometer, temperature } from '../quantity.ts'
import { fromPumpUp, type Running } from './running.ts'

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
    <section class="panel air-charts" aria-label="Temperature and atmosphere">
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
