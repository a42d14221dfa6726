import { useSignal } from '@preact/signals'
import type { LevelResult, LevelStep } from '#analysis/fuel-work/calibrate-level.ts'
import { t } from '#analysis/reasons/language.ts'
import { Choice, Field, partOf } from '../parts/fields.tsx'
import { Table } from '../parts/table-scroll.tsx'
import { digits, volume } from '../quantity.ts'
import { sheetWord } from '../words.ts'
import type { PartProps } from './entries.ts'
import { FillMarks } from './fill-marks.tsx'
import { type Attached, Judge } from './judge.tsx'
import { LevelPicture } from './level-picture.tsx'
import { FileField } from './photo-field.tsx'
import { SheetForm, SheetRows, statedIn, statedInEach, useSheet, useSheets } from './sheet-form.tsx'

const ways = [
  ['recordings', t`recordings of the sender`],
  ['panel', t`the panel, typed`],
] as const

/** Calibrates a level gauge from a recording with fill marks, or from typed panel readings. */
export function LevelPart({ system, known: { forms } }: PartProps) {
  const senders = system.channels.filter(({ measures }) => measures === 'level-sender')
  const how = useSignal({ way: senders.length > 0 ? 'recordings' : 'panel', steps: '8' })
  const [panel, sender] = [useSheet(forms.levelPanel, system), useSheet(forms.levelSender, system)]
  const points = useSheets(forms.levelPoint, system, 1)
  const files = useSignal<readonly Attached[]>([])
  const { way, steps } = how.value
  const typed = way === 'panel'
  const count = Number(steps)
  const marks = steps.includes(',') ? steps.split(/,\s*/) : steps.trim() && Number.isFinite(count) ? count : 8
  const form = typed ? panel : sender
  return (
    <section class="panel stack">
      <h2>Level sender calibration</h2>
      <p>
        Drain to unusable fuel, aircraft level, and mark it. Add a known amount, mark it once it is in, wait a
        minute; go on to the brim, then drain it the same way. Give what the pump or the scale says as the
        total: it closes the sum of the pours.
      </p>
      <div class="choices">
        <Choice label="Readings come from" of={partOf(how, 'way')} options={ways} />
        <Field
          label="Steps of the gauge: a number, or the fuel at each mark, such as 5 L, 15 L, 30 L"
          of={partOf(how, 'steps')}
        />
      </div>
      {!typed && (
        <FillMarks tank={senders.find(({ id }) => id === sender.values.value.channel)?.section ?? null} />
      )}
      <h3>Calibrate</h3>
      <SheetForm of={form} />
      {typed ? (
        <SheetRows what="Point" of={points} />
      ) : (
        <FileField
          label="Recordings with fill marks"
          accept=".lp"
          onPick={async (picked) => {
            files.value = await Promise.all(
              picked.map(async (one) => ({
                name: one.name.replaceAll(/[^\w.-]/g, '_'),
                text: await one.text(),
              })),
            )
          }}
        />
      )}
      <Judge<LevelResult>
        path="/api/level"
        sheet={() => ({
          ...statedIn(form),
          steps: marks,
          ...(typed ? { points: statedInEach(points) } : { recordings: files.value.map(({ name }) => name) }),
        })}
        recordings={typed ? [] : files.value}
      >
        {(result) => (
          <>
            <LevelPicture result={result} />
            <LevelTable result={result} attitude={t`level`} steps={result.steps_level} />
            <LevelTable result={result} attitude={t`ground`} steps={result.steps_ground} />
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
    low === null ? '–' : t`${digits(low * factor, 1)} to ${digits(high === null ? null : high * factor, 1)}`
  if (steps.length === 0) return null
  return (
    <Table
      label={t`Table for the gauge, ${attitude} attitude`}
      caption={t`In ${attitude} attitude`}
      rows={steps}
      columns={[
        [t`step`, ({ step }) => t`step ${step}`, 'head'],
        [t`usable ${fuel.symbol}`, (step) => digits(step.usable_L * perLiter, 1), 'number'],
        [t`reading ${result.reading_unit}`, (step) => digits(step.reading, 1), 'number'],
        [t`95 % interval`, (step) => range(step.reading_low, step.reading_high, 1), 'number'],
        [
          t`stands for ${fuel.symbol}`,
          (step) => range(step.usable_low_L, step.usable_high_L, perLiter),
          'number',
        ],
      ]}
    />
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
              Left out: {liters(one.usable_L)} {fuel.symbol} {sheetWord(one.direction)},{' '}
              {digits(one.reading, 1)}: {one.message}.
            </li>
          ))}
        </ul>
      )}
    </>
  )
}
