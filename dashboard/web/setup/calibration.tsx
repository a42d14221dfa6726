import { useSignal } from '@preact/signals'
import type { Channel } from '#analysis/model/system.ts'
import { t } from '#analysis/reasons/language.ts'
import { bench, mayOperate, system } from '../live/bench.ts'
import { Errors } from '../parts/facts.tsx'
import { Choice, Field, type Option } from '../parts/fields.tsx'
import { type Display, displayOf, moment, shown } from '../quantity.ts'
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
  const channels = (system.value?.channels ?? []).filter((one) => displayOf(one.measures).symbol !== '')
  const picked = useSignal('')
  const channel = channels.find((one) => one.id === picked.value)
  return (
    <div class="stack">
      <h3>Calibration</h3>
      <Choice
        label="Channel"
        of={picked}
        options={[
          ['', t`choose a channel`],
          ...channels.map(
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
  const number = (text: string): number => Number(text.trim().replace(',', '.').replace('−', '-'))
  const wrong = full.some((one) => one.some((text) => text.trim() === '' || !Number.isFinite(number(text))))

  const save = async (): Promise<void> => {
    const quantity = (text: string): string =>
      `${number(text)
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

  return (
    <form
      class="stack tight"
      onSubmit={(event) => {
        event.preventDefault()
        void save()
      }}
    >
      <table class="points">
        <thead>
          <tr>
            <th scope="col">true, {display.symbol}</th>
            <th scope="col">read, {display.symbol}</th>
            <td />
          </tr>
        </thead>
        <tbody>
          {rows.value.map((row, i) => (
            <tr key={i}>
              {([0, 1] as const).map((place) => (
                <td key={place}>
                  <input
                    type="text"
                    inputMode="decimal"
                    aria-label={
                      place === 0
                        ? t`True value of point ${i + 1}, ${display.symbol}`
                        : t`Read value of point ${i + 1}, ${display.symbol}`
                    }
                    value={row[place]}
                    disabled={busy}
                    onInput={(event) => set(i, place, event.currentTarget.value)}
                  />
                </td>
              ))}
              <td>
                <button
                  type="button"
                  aria-label={t`Reads now: take it for point ${i + 1}`}
                  disabled={busy || lately === undefined}
                  onClick={() => set(i, 1, written(lately!.asRead, display))}
                >
                  Reads now
                </button>
              </td>
            </tr>
          ))}
        </tbody>
      </table>
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
