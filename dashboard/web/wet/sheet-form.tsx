import type { SheetField, SheetFields } from '#analysis/fuel-work/sheet-fields.ts'
import type { System } from '#analysis/model/system.ts'
import { Choice, Field, localMoment, TimeField } from './judge.tsx'

/** What stands in a form, by key; empty is not stated. */
export type FormValues = Readonly<Record<string, string>>

/** A form with its first choice made where one is required. */
export const blankForm = (fields: SheetFields, system: System): FormValues =>
  Object.fromEntries(
    Object.entries(fields).map(([key, field]) => {
      if (field.is === 'instant') return [key, localMoment(new Date())]
      return [key, field.required ? (optionsOf(field, system)?.[0]?.[0] ?? '') : '']
    }),
  )

/** The sheet that a form stands for; entries left empty are not stated, which is not the same as zero. */
export function sheetOf(fields: SheetFields, values: FormValues): Record<string, unknown> {
  return Object.fromEntries(
    Object.entries(fields).flatMap(([key, field]) => {
      const text = (values[key] ?? '').trim()
      return text === '' || !isAsked(field, values) ? [] : [[key, entryOf(field, text)]]
    }),
  )
}

function entryOf(field: SheetField, text: string): unknown {
  // The server says of a number that it cannot read what is wrong with it.
  if (field.is === 'number') return Number.isFinite(Number(text)) ? Number(text) : text
  if (field.is === 'flag') return text === 'yes'
  if (field.is === 'texts') return text.split(/[,;]\s*/)
  return field.is === 'instant' ? new Date(text).toISOString() : text
}

function isAsked({ when }: SheetField, values: FormValues): boolean {
  if (!when) return true
  const [key, ...wanted] = when
  const value = values[key] ?? ''
  return wanted.length === 0 ? value !== '' : wanted.includes(value)
}

function optionsOf(
  field: SheetField,
  system: System,
): readonly (readonly [value: string, word: string])[] | null {
  const own = (): readonly (readonly [string, string])[] | null => {
    if (field.is === 'flag') return ['yes', 'no'].map((word) => [word, word] as const)
    if (field.is === 'word') return field.words.map((word) => [word, word] as const)
    if (field.is !== 'named') return null
    if (field.from === 'fittings')
      return system.fittings.map(({ id, name }) => [id, `${id} ${name}`] as const)
    if (field.from === 'senders')
      return system.channels
        .filter(({ measures }) => measures === 'level-sender')
        .map(({ id, section }) => [id, `${id}, ${section}`] as const)
    // Tanks first: they are asked for.
    return [...system.sections]
      .sort((a, b) => Number(b.kind === 'tank') - Number(a.kind === 'tank'))
      .map(({ id }) => [id, id] as const)
  }
  const options = own()
  return options === null || field.required ? options : [['', 'not stated'], ...options]
}

/** Asks for the fields of a sheet, in the words that file and paper know them by. */
export function SheetForm(props: {
  readonly fields: SheetFields
  readonly system: System
  readonly values: FormValues
  readonly onValues: (values: FormValues) => void
}) {
  const { fields, system, values } = props
  return (
    <div class="filters wet-fields">
      {Object.entries(fields).map(([key, field]) => {
        if (!isAsked(field, values)) return null
        const shared = { key, label: field.label, value: values[key] ?? '' }
        const set = (value: string) => props.onValues({ ...values, [key]: value })
        const options = optionsOf(field, system)
        if (options) return <Choice {...shared} options={options} onPick={set} />
        if (field.is === 'day') return <TimeField {...shared} type="date" onInput={set} />
        if (field.is === 'instant') return <TimeField {...shared} type="datetime-local" onInput={set} />
        return <Field {...shared} onInput={set} />
      })}
    </div>
  )
}

/** Several of the same: runs, points, lines of work. */
export function SheetRows(props: {
  readonly what: string
  readonly fields: SheetFields
  readonly system: System
  readonly rows: readonly FormValues[]
  readonly onRows: (rows: readonly FormValues[]) => void
}) {
  const { what, fields, system, rows, onRows } = props
  return (
    <>
      {rows.map((values, at) => (
        <fieldset key={at} class="stack">
          <legend>
            {what} {at + 1}
          </legend>
          <SheetForm
            fields={fields}
            system={system}
            values={values}
            onValues={(changed) => onRows(rows.with(at, changed))}
          />
          <div class="row">
            <button type="button" class="quiet" onClick={() => onRows(rows.toSpliced(at, 1))}>
              Remove {what.toLowerCase()} {at + 1}
            </button>
          </div>
        </fieldset>
      ))}
      <div class="row">
        <button type="button" onClick={() => onRows([...rows, rows.at(-1) ?? blankForm(fields, system)])}>
          Add a {what.toLowerCase()}
        </button>
      </div>
    </>
  )
}
