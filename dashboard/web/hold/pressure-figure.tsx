import { duration } from '#analysis/reasons/figures.ts'
import { t } from '#analysis/reasons/language.ts'
import {
  bench,
  heardAtMs,
  isLive,
  isSilent,
  link,
  quietFor,
  system,
  tickMs,
  trueReading,
} from '../live/bench.ts'
import { readings } from '../live/traces.ts'
import { limitPa } from '../parts/hold-limits.ts'
import { barometer, type Display, digits, displayOf, pressure, shown, withUnit } from '../quantity.ts'
import { type Described, gaugeOffsetPa } from './running.ts'

const newest = (channel: string): number | null => {
  const reading = (readings.value[channel] ?? bench.value?.newest[channel])?.reading
  return reading === undefined ? null : trueReading(channel, reading)
}

/** A secondary reading; crossed out when it is out of date. */
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

/** Why the figures are out of date. */
function oldWord(): string {
  if (isLive.value) return t`Old: the logger is silent`
  const age = duration(Math.round((tickMs.value - heardAtMs.value) / 1000))
  return link.value === 'stalled' ? t`Old: no data for ${age}` : t`Old: server lost ${age} ago`
}

/** The pressure, readable across the hangar. Old numbers are crossed out, not merely dimmed. */
export function PressureFigure({ of }: { of: Described }) {
  const { pressures, temperatures, barometer: atmosphere, spec, sections } = of
  const display = pressure()
  const old = !isLive.value || isSilent.value
  const decimals = Math.max(0, display.decimals - 1)
  const several = pressures.length > 1
  const limit = limitPa(spec, spec === null ? [] : sections)
  const sectionOf = (channel: string): string | null =>
    system.value?.channels.find((one) => one.id === channel)?.section ?? null
  // With several sections, each figure has its thermometer beside it.
  const besideFigure = (channel: string): boolean =>
    several && pressures.some((one) => one.section === sectionOf(channel))
  const apart = temperatures.filter((one) => !besideFigure(one))
  return (
    <section class={`figure-panel ${old ? 'is-old' : ''}`} aria-label="Readings now">
      <div class={`figures row ${pressures.length > 2 ? 'is-many' : several ? 'is-two' : ''}`}>
        {pressures.map((one) => {
          const reading = newest(one.channel)
          const quietS = quietFor(one.channel)
          const gauge = reading === null ? null : reading + gaugeOffsetPa(one.absolute, atmosphere)
          return (
            <p key={one.channel} class={`figure ${quietS === null ? '' : 'is-old'}`}>
              {several && <span class="figure-of soft">{one.section}</span>}
              <span class="figure-number">
                {gauge === null ? '–' : digits(shown(gauge, display), decimals)}
              </span>
              <span class="figure-unit soft">{display.symbol}</span>
              {quietS !== null && !old && (
                <span class="old-word">
                  Old: {one.channel} gives no reading for {duration(quietS)}
                </span>
              )}
              {several && (
                <span class="figure-air">
                  {temperatures
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
      <ul class="beside-figure line">
        {spec && (
          <li>
            <span class="soft">to hold</span> {withUnit(spec.pressurePa, display, decimals)}
          </li>
        )}
        {limit !== null && (
          <li>
            <span class="soft">never {limit < 0 ? t`below` : t`over`}</span>{' '}
            {withUnit(limit, display, decimals)}
          </li>
        )}
        {apart.map((channel) => (
          <li key={channel}>
            <span class="soft">{apart.length > 1 ? channel : t`temperature`}</span>{' '}
            <Beside channel={channel} display={displayOf('temperature')} decimals={1} />
          </li>
        ))}
        {atmosphere !== null && (
          <li>
            <span class="soft">atmosphere</span> <Beside channel={atmosphere} display={barometer()} />
          </li>
        )}
      </ul>
    </section>
  )
}
