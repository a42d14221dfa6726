import { useSignal } from '@preact/signals'
import type { Channel } from '#analysis/model/system.ts'
import { t } from '#analysis/reasons/language.ts'
import type { NewestReading } from '#dashboard/api.ts'
import { bench, channels, mayOperate, trueReading } from '../live/bench.ts'
import { sendMark } from '../marks/outbox.ts'
import { Errors } from '../parts/facts.tsx'
import { Button, Check, Field, memberOf, type Option, onSubmit } from '../parts/fields.tsx'
import { Table } from '../parts/table-scroll.tsx'
import { type Display, digits, displayOf, moment, numberOf, shown, withUnit } from '../quantity.ts'
import { temperatureUnit } from '../settings.ts'
import { editFile } from '../system/edit-file.ts'

/** One row of the form, as typed. */
type Row = readonly [trueValue: string, read: string]

/** Enough digits for the finest gauge, without binary rounding noise. */
const written = (si: number, display: Display): string => String(Number(shown(si, display).toPrecision(8)))

const rowsOf = (channel: Channel, display: Display): readonly Row[] => {
  const points = channel.calibration?.points ?? []
  return [...points.map(([t, r]): Row => [written(t, display), written(r, display)]), ['', '']]
}

/** Calibration points of a channel, saved in the system file and so part of every record. */
export function Calibration() {
  const own = channels.value.filter((one) => displayOf(one.measures).symbol !== '')
  const picked = useSignal('')
  const channel = own.find((one) => one.id === picked.value)
  return (
    <div class="stack">
      <h3>Calibration</h3>
      <Field
        label="Channel"
        of={picked}
        options={[
          ['', t`choose a channel`],
          ...own.map(
            ({ id, calibration }): Option => [
              id,
              calibration ? t`${id}, calibrated ${calibration.date}` : t`${id}, not calibrated`,
            ],
          ),
        ]}
      />
      {channel && <Points key={channel.id + displayOf(channel.measures).symbol} channel={channel} />}
    </div>
  )
}

function Points({ channel }: { channel: Channel }) {
  const display = displayOf(channel.measures)
  const unit = channel.measures === 'temperature' ? temperatureUnit.value : display.symbol
  const rows = useSignal(rowsOf(channel, display))
  const date = useSignal(moment(new Date().toISOString()).slice(0, 10))
  const due = useSignal(channel.calibration?.due ?? '')
  const errors = useSignal<readonly string[]>([])
  const lately = bench.value?.newest[channel.id]?.lately
  const busy = bench.value?.hold !== null || !mayOperate.value
  const set = (row: number, place: 0 | 1, text: string): void => {
    const next = rows.value.map((one, i): Row => {
      if (i !== row) return one
      return place === 0 ? [text, one[1]] : [one[0], text]
    })
    // There is always an empty row below.
    rows.value = next.at(-1)!.join('') === '' ? next : [...next, ['', '']]
  }
  const full = rows.value.filter((one) => one.join('').trim() !== '')
  const wrong = full.some((one) => one.some((text) => !Number.isFinite(numberOf(text))))

  const save = async (): Promise<void> => {
    const quantity = (text: string): string =>
      `${numberOf(text)
        .toFixed(9)
        .replace(/\.?0+$/, '')} ${unit}`
    const calibration = {
      date: date.value,
      ...(due.value && { due: due.value }),
      points: full.map(([trueValue, read]) => [quantity(trueValue), quantity(read)]),
    }
    const id = channel.movable?.id ?? channel.id
    errors.value = await editFile(
      [{ list: 'channels', id, keys: { calibration } }],
      t`The calibration of ${id} is in the system file.`,
    )
  }

  const input = (row: Row, i: number, place: 0 | 1, label: string) => (
    <input
      type="text"
      inputMode="decimal"
      aria-label={label}
      value={row[place]}
      disabled={busy}
      onInput={(event) => set(i, place, event.currentTarget.value)}
    />
  )

  return (
    <form class="stack tight" onSubmit={onSubmit(save)}>
      <Table
        class="points"
        rows={rows.value}
        columns={[
          [
            t`true, ${display.symbol}`,
            (row, i) => input(row, i, 0, t`True value of point ${i + 1}, ${display.symbol}`),
          ],
          [
            t`read, ${display.symbol}`,
            (row, i) => input(row, i, 1, t`Read value of point ${i + 1}, ${display.symbol}`),
          ],
          [
            t`(take)`,
            (_, i) => (
              <Button
                aria-label={t`Reads now: take it for point ${i + 1}`}
                disabled={busy || lately === undefined}
                onClick={() => set(i, 1, written(lately!.asRead, display))}
              >
                Reads now
              </Button>
            ),
          ],
        ]}
      />
      <div class="row">
        <Field label="Calibrated on" type="date" required of={date} />
        <Field label="Due again (optional)" type="date" of={due} />
      </div>
      <Errors of={errors.value} />
      <div class="row">
        <button type="submit" class="main" disabled={busy || wrong || full.length === 0}>
          Save into the system file
        </button>
        <span class="soft small">
          One point shifts, two or more bend. An empty row is dropped.{' '}
          {wrong && t`Every point needs two numbers.`}
        </span>
      </div>
    </form>
  )
}

/** The analysis rejects a zero beyond this share of the span: it is a wrong mark, not a drift. */
const FURTHEST = 0.05
/** A reading that moves by more than this share of the span within five seconds is not steady. */
const STILL = 0.005

/** Why a zero cannot be taken now; null when it can. */
function whyNoZero(rangeSi: Channel['rangeSi'], lately: NewestReading['lately']): string | null {
  if (lately === undefined) return t`has sent no data yet`
  if (rangeSi === null) return null
  const span = rangeSi[1] - rangeSi[0]
  if (lately.high - lately.low > STILL * span) return t`is not steady yet`
  return Math.abs(lately.asRead) > FURTHEST * span ? t`is too far from zero: is the section vented?` : null
}

/** A zero is a mark in the recording: the samples are unchanged, and each analysis applies it. */
export function Zero() {
  const opened = useSignal<readonly string[]>([])
  const gauges = channels.value.filter((one) => one.measures === 'gauge-pressure')
  const busy = bench.value?.hold !== null
  if (gauges.length === 0) return <p class="soft">The system file names no gauge.</p>
  return (
    <div class="stack">
      <h3>Zero</h3>
      <p>
        Vent the section, open the gauge to the air and wait until it is steady: its zero is the mean of the
        last five seconds. The recording keeps the samples unchanged; from the mark on, the live values and
        the analysis apply it.
      </p>
      <ul class="zero-list stack tight">
        {gauges.map((channel) => {
          const newest = bench.value?.newest[channel.id]
          const lately = newest?.lately
          const display = displayOf(channel.measures)
          const ready = memberOf(opened, channel.id)
          const why = whyNoZero(channel.rangeSi, lately)
          const shift = newest && lately ? newest.reading - lately.asRead : 0
          return (
            <li key={channel.id}>
              <span>
                <strong>{channel.id}</strong>{' '}
                <span class="zero-reading">
                  {withUnit(newest && trueReading(channel.id, newest.reading), display, display.decimals + 1)}
                </span>
                {lately && Math.abs(shift) > lately.high - lately.low && (
                  <span class="soft small">
                    {' '}
                    zero applied: {digits(shift * display.slope, display.decimals + 1)}
                  </span>
                )}
                {why && <span class="soft small"> {why}</span>}
              </span>
              <Check of={ready} disabled={!mayOperate.value || busy}>
                {channel.id} is vented and open to the air
              </Check>
              <Button
                disabled={!ready.value || why !== null || busy || !mayOperate.value}
                onClick={async () => {
                  await sendMark(
                    { kind: 'zero', id: channel.id, fields: { reading: lately!.asRead, true: 0 } },
                    t`zero of ${channel.id}`,
                  )
                  ready.value = false
                }}
              >
                Take its zero
              </Button>
            </li>
          )
        })}
      </ul>
      {busy && <p class="soft">A hold is running: a zero is taken before or after it.</p>}
    </div>
  )
}
