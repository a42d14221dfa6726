import { useSignal } from '@preact/signals'
import type { LevelResult } from '#analysis/fuel-work/level-result.ts'
import type { System } from '#analysis/model/system.ts'
import { TableScroll } from '../parts/table-scroll.tsx'
import { digits, volume } from '../quantity.ts'
import { FillMarks } from './fill-marks.tsx'
import { Choice, Field, Judge, numberOrNull } from './judge.tsx'
import { LevelPicture } from './level-picture.tsx'

/** Calibrates a level sender from a recording with fill marks. */
export function LevelPart({ system }: { system: System }) {
  const senders = system.channels.filter(({ measures }) => measures === 'level-sender')
  const channel = useSignal(senders[0]?.id ?? '')
  const steps = useSignal('8')
  const files = useSignal<readonly { readonly name: string; readonly text: string }[]>([])
  const found = useSignal<readonly LevelResult[]>([])
  if (senders.length === 0)
    return <p class="note">The system file names no channel that measures a level-sender.</p>
  return (
    <section class="panel stack">
      <h2>Level sender calibration</h2>
      <p>
        Drain to unusable fuel, aircraft level, and mark it. Pour in a known amount, mark it once it is in,
        wait a minute; go on to the brim, then draw it off the same way. Give what the pump or the scale says
        as the total: it closes the sum of the pours.
      </p>
      <FillMarks tank={senders.find(({ id }) => id === channel.value)?.section ?? null} />
      <h3>Calibrate</h3>
      <div class="choices">
        <Choice
          label="Sender"
          value={channel.value}
          options={senders.map(({ id, section }) => [id, `${id}, ${section}`])}
          onPick={(id) => (channel.value = id)}
        />
        <Field label="Steps of the gauge" value={steps.value} onInput={(text) => (steps.value = text)} />
        <label class="field">
          <span>Recordings with fill marks</span>
          <input
            type="file"
            accept=".lp"
            multiple
            onChange={async (event) => {
              const picked = [...(event.currentTarget.files ?? [])]
              files.value = await Promise.all(
                picked.map(async (one) => ({
                  name: one.name.replaceAll(/[^\w.-]/g, '_'),
                  text: await one.text(),
                })),
              )
            }}
          />
        </label>
      </div>
      <Judge<LevelResult>
        path="/api/level"
        found={found}
        sheet={() => ({
          channel: channel.value,
          steps: numberOrNull(steps.value) ?? 8,
          recordings: files.value.map(({ name }) => name),
        })}
        recordings={files.value}
      >
        {(result) => <LevelTable result={result} />}
      </Judge>
    </section>
  )
}

function LevelTable({ result }: { result: LevelResult }) {
  const fuel = volume()
  const perLiter = fuel.slope / 1000
  const range = (low: number | null, high: number | null, factor: number): string =>
    low === null ? '–' : `${digits(low * factor, 1)} to ${digits(high === null ? null : high * factor, 1)}`
  const liters = (value: number): string => digits(value * perLiter, 1)
  return (
    <>
      <LevelPicture result={result} />
      <TableScroll label="Table for the gauge">
        <table class="stacks">
          <thead>
            <tr>
              <th>step</th>
              <th class="number">usable {fuel.symbol}</th>
              <th class="number">reading {result.reading_unit}</th>
              <th class="number">95 % interval</th>
              <th class="number">stands for {fuel.symbol}</th>
            </tr>
          </thead>
          <tbody>
            {result.steps_level.map((step) => (
              <tr key={step.step}>
                <th scope="row">step {step.step}</th>
                <td class="number" data-label={`usable ${fuel.symbol}`}>
                  {liters(step.usable_L)}
                </td>
                <td class="number" data-label={`reading ${result.reading_unit}`}>
                  {digits(step.reading, 1)}
                </td>
                <td class="number" data-label="95 % interval">
                  {range(step.reading_low, step.reading_high, 1)}
                </td>
                <td class="number" data-label={`stands for ${fuel.symbol}`}>
                  {range(step.usable_low_L, step.usable_high_L, perLiter)}
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      </TableScroll>
      {result.hysteresis && (
        <p>
          Up and down differ by {digits(result.hysteresis.span_percent, 1)} % of the span,{' '}
          {liters(result.hysteresis.fuel_L)} {fuel.symbol} at most.
        </p>
      )}
      {result.rejected.length > 0 && (
        <ul>
          {result.rejected.map((one, i) => (
            <li key={i}>
              Left out: {liters(one.usable_L)} {fuel.symbol} {one.direction}, {digits(one.reading, 1)}:{' '}
              {one.message}.
            </li>
          ))}
        </ul>
      )}
    </>
  )
}
