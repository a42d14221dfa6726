import { duration } from '#analysis/reasons/figures.ts'
import { bench, heardAtMs, isLive, isSilent, link, system, tickMs } from '../live/bench.ts'
import { readings } from '../live/traces.ts'
import { quietFor, trueReading } from '../live/true-reading.ts'
import { barometer, type Display, digits, displayOf, pressure, shown, withUnit } from '../quantity.ts'
import { gaugeOffsetPa } from './running.ts'

interface Props {
  readonly pressures: readonly {
    readonly channel: string
    readonly section: string
    readonly absolute: boolean
  }[]
  readonly temperatures: readonly string[]
  readonly barometerChannel: string | null
  readonly targetPa: number | null
  /** Negative: the deepest vacuum. */
  readonly limitPa: number | null
}

const newest = (channel: string): number | null => {
  const reading = (readings.value[channel] ?? bench.value?.newest[channel])?.reading
  return reading === undefined ? null : trueReading(channel, reading)
}

/** A reading beside the figure; crossed out when it is not of now. */
function Beside({ channel, display, decimals }: { channel: string; display: Display; decimals?: number }) {
  const quietS = quietFor(channel)
  return (
    <>
      <span class={quietS === null && isLive.value ? '' : 'old-reading'}>
        {withUnit(newest(channel), display, decimals)}
      </span>
      {quietS !== null && <span class="soft"> no reading for {duration(quietS)}</span>}
    </>
  )
}

/** Why the figures are not to be trusted. */
function oldWord(): string {
  if (isLive.value) return 'Old: the logger says nothing'
  const age = duration(Math.round((tickMs.value - heardAtMs.value) / 1000))
  return link.value === 'stalled' ? `Old: no word for ${age}` : `Old: server lost ${age} ago`
}

/** The figure that is read across the hangar. Old numbers are crossed out, not merely dimmed. */
export function PressureFigure(props: Props) {
  const display = pressure()
  const old = !isLive.value || isSilent.value
  const decimals = Math.max(0, display.decimals - 1)
  const several = props.pressures.length > 1
  const sectionOf = (channel: string): string | null =>
    system.value?.channels.find((one) => one.id === channel)?.section ?? null
  // Of several sections each has its thermometer beside its own figure.
  const besideFigure = (channel: string): boolean =>
    several && props.pressures.some((one) => one.section === sectionOf(channel))
  const apart = props.temperatures.filter((one) => !besideFigure(one))
  return (
    <section class={`figure-panel ${old ? 'is-old' : ''}`} aria-label="Readings now">
      <div class={`figures ${props.pressures.length > 2 ? 'is-many' : several ? 'is-two' : ''}`}>
        {props.pressures.map((one) => {
          const reading = newest(one.channel)
          const quietS = quietFor(one.channel)
          const gauge =
            reading === null ? null : reading + gaugeOffsetPa(one.absolute, props.barometerChannel)
          return (
            <p key={one.channel} class={`figure ${quietS === null ? '' : 'is-old'}`}>
              {several && <span class="figure-of">{one.section}</span>}
              <span class="figure-number">
                {gauge === null ? '–' : digits(shown(gauge, display), decimals)}
              </span>
              <span class="figure-unit">{display.symbol}</span>
              {quietS !== null && !old && (
                <span class="old-word">
                  Old: {one.channel} gives no reading for {duration(quietS)}
                </span>
              )}
              {several && (
                <span class="figure-air">
                  {props.temperatures
                    .filter((channel) => sectionOf(channel) === one.section)
                    .map((channel) => (
                      <Beside
                        key={channel}
                        channel={channel}
                        display={displayOf('temperature')}
                        decimals={1}
                      />
                    ))}
                </span>
              )}
            </p>
          )
        })}
      </div>
      {old && <p class="old-word">{oldWord()}</p>}
      <ul class="beside-figure">
        {props.targetPa !== null && (
          <li>
            <span class="soft">to hold</span> {withUnit(props.targetPa, display, decimals)}
          </li>
        )}
        {props.limitPa !== null && (
          <li>
            <span class="soft">never {props.limitPa < 0 ? 'below' : 'over'}</span>{' '}
            {withUnit(props.limitPa, display, decimals)}
          </li>
        )}
        {apart.map((channel) => (
          <li key={channel}>
            <span class="soft">{apart.length > 1 ? channel : 'temperature'}</span>{' '}
            <Beside channel={channel} display={displayOf('temperature')} decimals={1} />
          </li>
        ))}
        {props.barometerChannel !== null && (
          <li>
            <span class="soft">atmosphere</span>{' '}
            <Beside channel={props.barometerChannel} display={barometer()} />
          </li>
        )}
      </ul>
    </section>
  )
}
