import { useSignal } from '@preact/signals'
import type { LevelResult, LevelStep } from '#analysis/fuel-work/calibrate-level.ts'
import type { FlowResult } from '#analysis/fuel-work/check-flow.ts'
import type { WorkResult } from '#analysis/fuel-work/judge-torque.ts'
import { t } from '#analysis/reasons/language.ts'
import { mayOperate, tell as tellBench } from '../live/bench.ts'
import { type Brush, circle, edge } from '../parts/brush.ts'
import { Trouble } from '../parts/facts.tsx'
import { Button, Field, FileField, partOf } from '../parts/fields.tsx'
import { Table } from '../parts/table-scroll.tsx'
import { TimeChart } from '../parts/time-chart.tsx'
import { toast } from '../parts/toast.tsx'
import { useTrouble } from '../parts/use-answer.ts'
import { clockTime, digits, volume, withUnit } from '../quantity.ts'
import { sheetWord } from '../words.ts'
import { type Attached, Judge, type PartProps } from './judge.tsx'
import { SheetForm, SheetRows, stated, statedIn, statedInEach, useSheet } from './sheet-form.tsx'

const ways = [
  ['recordings', t`recordings of the sender`],
  ['panel', t`the panel, typed`],
] as const

/** Calibrates a level gauge from a recording with fill marks, or from typed panel readings. */
export function LevelPart({ system, known: { forms } }: PartProps) {
  const senders = system.channels.filter(({ measures }) => measures === 'level-sender')
  const how = useSignal({ way: senders.length > 0 ? 'recordings' : 'panel', steps: '8' })
  const [panel, sender] = [useSheet(forms.levelPanel, system), useSheet(forms.levelSender, system)]
  const points = useSheet(forms.levelPoint, system)
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
      <div class="choices row low">
        <Field label="Readings come from" of={partOf(how, 'way')} options={ways} />
        <Field
          label="Steps of the gauge: a number, or the fuel at each mark, such as 5 L, 15 L, 30 L"
          of={partOf(how, 'steps')}
        />
      </div>
      {!typed && (
        <FillMarks tank={senders.find(({ id }) => id === sender.rows.value[0]?.channel)?.section ?? null} />
      )}
      <h3>Calibrate</h3>
      <SheetForm of={form} />
      {typed ? (
        <SheetRows what="Point" of={points} />
      ) : (
        <FileField
          label="Recordings with fill marks"
          accept=".lp"
          multiple
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

const triangle = { up: 'M-5 4H5L0 -5Z', down: 'M-5 -4H5L0 5Z' } as const

/** Reading against usable fuel: upward triangles for filling, downward ones for draining, crosses for excluded points. */
function LevelPicture({ result }: { result: LevelResult }) {
  const { points, rejected, steps_level: steps, reading_unit: unit } = result
  const all = [...points, ...rejected].filter(({ reading }) => reading !== null)
  if (all.length < 2) return null
  const perLiter = volume().slope / 1000
  const fuel = all.map(({ usable_L }) => usable_L * perLiter)
  const readings = all.map(({ reading }) => reading!)
  const [low, high] = [Math.min(...readings), Math.max(...readings)]
  const room = (high - low || 1) * 0.08
  const most = Math.max(...fuel)
  const read = steps.filter((step) => step.reading !== null)
  const at = (of: { readonly usable_L: number; readonly reading: number | null }) =>
    [of.usable_L * perLiter, of.reading!] as const
  const summary = t`Readings from ${digits(readings[0], 1)} to ${digits(readings.at(-1), 1)} ${unit} over ${withUnit(most / volume().slope, volume(), 1)}.`
  const over = (brush: Brush): void => {
    for (const step of steps) {
      const x = step.usable_L * perLiter
      brush.upright(x, { token: '--line', width: 1, under: true })
      brush.words(`${step.step}`, [x, edge], { token: '--ink-soft', dx: -3, dy: 4, weight: 400 })
    }
    for (const point of points)
      brush.shape(triangle[point.direction], at(point), { token: '--raw', width: 1.6 })
    for (const point of rejected)
      if (point.reading !== null)
        brush.shape('M-5 -5l10 10m0 -10l-10 10', at(point), { token: '--fail', width: 2.4 })
    for (const step of read) {
      brush.shape(circle(4), at(step), { token: '--surface', fill: true })
      brush.shape(circle(4), at(step), { token: '--line-a' })
    }
  }
  return (
    <>
      <TimeChart
        label="Reading"
        unit={t`${unit} over the usable fuel in ${volume().symbol}, step by step of the gauge`}
        said={summary}
        across="number"
        decimals={1}
        lines={[{ label: t`steps`, token: '--line-a', width: 2 }]}
        view={() => ({
          columns: [{ x: read.map((one) => at(one)[0]), y: read.map((one) => one.reading) }],
          x: [Math.min(0, ...fuel), most * 1.02],
          y: [low - room, high + room],
          zeroS: 0,
        })}
        over={over}
        figures={{ summary, rows: [] }}
      />
      <p class="small soft">△ filling ▽ drawing off × left out ○ step</p>
    </>
  )
}

const directions = [
  ['up', t`poured in`],
  ['down', t`drawn off`],
] as const
const attitudes = [
  ['level', t`level`],
  ['ground', t`as on the ground`],
] as const

/** Marks each pour in the running recording, once it is in the tank. */
function FillMarks({ tank }: { readonly tank: string | null }) {
  const form = useSignal({ volume: '5 L ± 0.5 %', attitude: 'level', direction: 'up', total: '' })
  const made = useSignal<readonly string[]>([])
  const { wrong, tell } = useTrouble()
  const { volume, attitude, direction, total } = form.value
  const mark = (words: string, fields: Readonly<Record<string, string | boolean>>) =>
    tell(async () => {
      const all = stated({ attitude, total, ...fields })
      await tellBench('/api/mark', { kind: 'fill', id: tank ?? undefined, fields: all })
      made.value = [...made.value, `${clockTime(new Date().toISOString())}: ${words}`]
      form.value = { ...form.value, total: '' }
      toast(t`Marked: ${words}.`)
    })
  const poured = `${volume} ${direction === 'up' ? t`poured in` : t`drawn off`}`
  const off = !mayOperate.value
  return (
    <section class="stack" aria-labelledby="fill-marks">
      <h3 id="fill-marks">Mark the pours{tank && t` of ${tank}`}</h3>
      <div class="cells low">
        <Field label="Amount with its tolerance" of={partOf(form, 'volume')} />
        <Field label="Fuel is" of={partOf(form, 'direction')} options={directions} />
        <Field label="Aircraft stands" of={partOf(form, 'attitude')} options={attitudes} />
        <Field label="Total by pump or scale, if known" of={partOf(form, 'total')} />
      </div>
      <div class="row">
        <Button disabled={off} onClick={() => mark(t`at unusable fuel`, { start: 'unusable' })}>
          Mark: at unusable fuel
        </Button>
        <Button
          class="main"
          disabled={off || volume === ''}
          onClick={() => mark(poured, { volume, direction })}
        >
          Mark: {poured}
        </Button>
        <Button
          disabled={off || direction !== 'up'}
          onClick={() => mark(t`${poured}, brim-full`, { volume, direction, full: true })}
        >
          Mark: and it is brim-full
        </Button>
      </div>
      <Trouble of={wrong} />
      {made.value.length > 0 && (
        <ol aria-label="Marks made here">
          {made.value.map((one) => (
            <li key={one}>{one}</li>
          ))}
        </ol>
      )}
      <p class="small soft">
        The marks go into the recording that runs, beside the sender’s readings. Wait a minute after each
        before the next.
      </p>
    </section>
  )
}

/** Timed deliveries against the engine's take-off demand: each pump alone, from each tank alone. */
export function FlowPart({ system, known: { forms } }: PartProps) {
  const head = useSheet(forms.flow, system)
  const runs = useSheet(forms.flowRun, system)
  const omitted = useSheet(forms.flowOmitted, system, 0)
  return (
    <section class="panel stack">
      <h2>Fuel flow check</h2>
      <p>
        Nose up as in the steepest climb and a margin, the tank at its unusable fuel and what the run needs,
        the fuel running out at the height of the engine inlet. By gravity 150 % of the take-off flow is
        needed, by pump 125 % (14 CFR 23.955): each pump alone from each tank alone, and once every pump
        together. Write quantities with their unit and tolerance, such as “8.10 kg ± 0.02 kg”.
      </p>
      <SheetForm of={head} />
      <SheetRows what="Run" of={runs} />
      <SheetRows what="Run left out" of={omitted} />
      <Judge<FlowResult>
        path="/api/flow"
        sheet={() => ({ ...statedIn(head), runs: statedInEach(runs), omitted: statedInEach(omitted) })}
      >
        {(result) =>
          result.runs.map((run) => (
            <p key={run.run}>
              {run.run}: {digits(run.share_percent, 0)} % of take-off flow, {run.needed_percent} % needed.
            </p>
          ))
        }
      </Judge>
    </section>
  )
}

/** Lines of the work sheet; each fitting is stale in the ledger until its next hold. */
export function TorquePart({ system, known }: PartProps) {
  const lines = useSheet(known.forms.work, system)
  const fittings = [...new Set(lines.rows.value.map(({ fitting }) => fitting))]
  return (
    <section class="panel stack">
      <h2>Torque and work</h2>
      <p class="note is-undecided">Vent first: never tighten a fitting under pressure.</p>
      <SheetRows what="Line" of={lines} />
      {fittings.map((id) => (
        <p key={id}>
          {id}: {known.ranges.find((one) => one.id === id)?.words ?? t`no published range`}. The maker’s range
          comes first.
        </p>
      ))}
      <Judge<WorkResult> path="/api/torque" sheet={() => ({ work: statedInEach(lines) })} />
    </section>
  )
}
