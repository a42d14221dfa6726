import { useSignal } from '@preact/signals'
import type { LevelResult, LevelStep } from '#analysis/fuel-work/calibrate-level.ts'
import { TableScroll } from '../parts/table-scroll.tsx'
import { digits, volume } from '../quantity.ts'
import { FillMarks } from './fill-marks.tsx'
import { Choice, Field, Judge, numberOrNull } from './judge.tsx'
import { LevelPicture } from './level-picture.tsx'
import type { PartProps } from './looks.tsx'
import { blankForm, type FormValues, SheetForm, SheetRows, sheetOf } from './sheet-form.tsx'

/** Calibrates a level gauge from a recording with fill marks, or from figures typed off the panel. */
export function LevelPart({ system, known: { forms } }: PartProps) {
  const senders = system.channels.filter(({ measures }) => measures === 'level-sender')
  const way = useSignal(senders.length > 0 ? 'recordings' : 'panel')
  const form = useSignal<FormValues>({
    ...blankForm(forms.levelPanel, system),
    ...blankForm(forms.levelSender, system),
  })
  const steps = useSignal('8')
  const points = useSignal<readonly FormValues[]>([blankForm(forms.levelPoint, system)])
  const files = useSignal<readonly { readonly name: string; readonly text: string }[]>([])
  const found = useSignal<readonly LevelResult[]>([])
  const typed = way.value === 'panel'
  const marks = steps.value.includes(',') ? steps.value.split(/,\s*/) : (numberOrNull(steps.value) ?? 8)
  const fields = typed ? forms.levelPanel : forms.levelSender
  return (
    <section class="panel stack">
      <h2>Level sender calibration</h2>
      <p>
        Drain to unusable fuel, aircraft level, and mark it. Add a known amount, mark it once it is in, wait a
        minute; go on to the brim, then drain it the same way. Give what the pump or the scale says as the
        total: it closes the sum of the pours.
      </p>
      <div class="choices">
        <Choice
          label="Readings come from"
          value={way.value}
          options={[
            ['recordings', 'recordings of the sender'],
            ['panel', 'the panel, typed'],
          ]}
          onPick={(word) => (way.value = word)}
        />
        <Field
          label="Steps of the gauge: a number, or the fuel at each mark, such as 5 L, 15 L, 30 L"
          value={steps.value}
          onInput={(text) => (steps.value = text)}
        />
      </div>
      {!typed && <FillMarks tank={senders.find(({ id }) => id === form.value.channel)?.section ?? null} />}
      <h3>Calibrate</h3>
      <SheetForm
        fields={fields}
        system={system}
        values={form.value}
        onValues={(values) => (form.value = values)}
      />
      {typed ? (
        <SheetRows
          what="Point"
          fields={forms.levelPoint}
          system={system}
          rows={points.value}
          onRows={(rows) => (points.value = rows)}
        />
      ) : (
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
      )}
      <Judge<LevelResult>
        path="/api/level"
        found={found}
        sheet={() => ({
          ...sheetOf(fields, form.value),
          steps: marks,
          ...(typed
            ? { points: points.value.map((values) => sheetOf(forms.levelPoint, values)) }
            : { recordings: files.value.map(({ name }) => name) }),
        })}
        recordings={typed ? [] : files.value}
      >
        {(result) => (
          <>
            <LevelPicture result={result} />
            <LevelTable result={result} attitude="level" steps={result.steps_level} />
            <LevelTable result={result} attitude="ground" steps={result.steps_ground} />
            <LevelNotes result={result} />
          </>
        )}
      </Judge>
    </section>
  )
}

function LevelTable(props: {
  readonly result: LevelResult
  readonly attitude: string
  readonly steps: readonly LevelStep[]
}) {
  const { result, attitude, steps } = props
  const fuel = volume()
  const perLiter = fuel.slope / 1000
  const range = (low: number | null, high: number | null, factor: number): string =>
    low === null ? '–' : `${digits(low * factor, 1)} to ${digits(high === null ? null : high * factor, 1)}`
  if (steps.length === 0) return null
  return (
    <TableScroll label={`Table for the gauge, ${attitude} attitude`}>
      <table class="stacks">
        <caption>In {attitude} attitude</caption>
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
          {steps.map((step) => (
            <tr key={step.step}>
              <th scope="row">step {step.step}</th>
              <td class="number" data-label={`usable ${fuel.symbol}`}>
                {digits(step.usable_L * perLiter, 1)}
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
  )
}

function LevelNotes({ result }: { readonly result: LevelResult }) {
  const fuel = volume()
  const liters = (value: number): string => digits((value * fuel.slope) / 1000, 1)
  return (
    <>
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
