import { useSignal } from '@preact/signals'
import type { SheetField, SheetFields } from '#analysis/fuel-work/sheet-fields.ts'
import type { System } from '#analysis/model/system.ts'
import { t } from '#analysis/reasons/language.ts'
import { asOptions, Button, type Entry, entry, Field, type Option, partOf } from '../parts/fields.tsx'
import { sheetWords } from '../words.ts'

/** Form values by key; an empty value is not stated. */
type FormValues = Readonly<Record<string, string>>

/** The fields of a form with their values, once or repeated: runs, points, lines of work. */
export interface Sheet {
  readonly fields: SheetFields
  readonly system: System
  readonly rows: Entry<readonly FormValues[]>
}

/** A form of a sheet; required choices default to the first option. */
export const useSheet = (fields: SheetFields, system: System, count: 0 | 1 = 1): Sheet => ({
  fields,
  system,
  rows: useSignal(count === 0 ? [] : [blank(fields, system)]),
})

/** The sheets with the values of a repeated form, and the sheet of one that is not repeated. */
export const statedInEach = ({ fields, rows }: Sheet): object[] =>
  rows.value.map((values) => sheetOf(fields, values))
export const statedIn = (form: Sheet): object => ({ ...statedInEach(form)[0] })

/** A time in the format of an input field, in the bench's zone. */
const localMoment = (at: Date): string =>
  new Date(at.getTime() - at.getTimezoneOffset() * 60_000).toISOString().slice(0, 16)

const blank = (fields: SheetFields, system: System): FormValues =>
  Object.fromEntries(
    Object.entries(fields).map(([key, field]) => {
      if (field.is === 'instant') return [key, localMoment(new Date())]
      return [key, field.required ? (optionsOf(field, system)?.[0]?.[0] ?? '') : '']
    }),
  )

/** Entries left empty are not stated, which is not the same as zero. */
export const stated = (entries: Readonly<Record<string, unknown>>): Record<string, unknown> =>
  Object.fromEntries(Object.entries(entries).filter(([, value]) => value !== '' && value !== null))

const sheetOf = (fields: SheetFields, values: FormValues): object =>
  stated(
    Object.fromEntries(
      Object.entries(fields).map(([key, field]) => {
        const text = (values[key] ?? '').trim()
        return [key, text === '' || !isAsked(field, values) ? null : entryOf(field, text)]
      }),
    ),
  )

function entryOf(field: SheetField, text: string): unknown {
  // An unreadable number is sent as text: the server reports the error.
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

function optionsOf(field: SheetField, { fittings, channels, sections }: System) {
  const named = {
    fittings: () => fittings.map(({ id, name }): Option => [id, `${id} ${name}`]),
    senders: () =>
      channels
        .filter(({ measures }) => measures === 'level-sender')
        .map(({ id, section }): Option => [id, `${id}, ${section}`]),
    // Tanks first: these sheets are about tanks.
    sections: () => {
      const tanks = sections.filter(({ kind }) => kind === 'tank')
      return asOptions([...new Set([...tanks, ...sections])].map(({ id }) => id))
    },
  }
  const own =
    field.is === 'flag'
      ? yesOrNo
      : field.is === 'word'
        ? sheetWords(field.words)
        : field.is === 'named'
          ? named[field.from]()
          : undefined
  return own && !field.required ? [['', t`not stated`] as const, ...own] : own
}

const yesOrNo: readonly Option[] = [
  ['yes', t`yes`],
  ['no', t`no`],
]

const types = { day: 'date', instant: 'datetime-local' } as const

/** Asks for the fields of a sheet, with the labels of the file and the paper form. */
export function SheetForm({ of: { fields, system, rows }, at = 0 }: { of: Sheet; at?: number }) {
  const form = entry(rows.value[at] ?? {}, (changed) => {
    rows.value = rows.value.with(at, changed)
  })
  return (
    <div class="cells low">
      {Object.entries(fields)
        .filter(([, field]) => isAsked(field, form.value))
        .map(([key, field]) => (
          <Field
            key={key}
            label={field.label}
            of={partOf(form, key)}
            options={optionsOf(field, system)}
            type={types[field.is as keyof typeof types]}
          />
        ))}
    </div>
  )
}

export function SheetRows({ what, of }: { readonly what: string; readonly of: Sheet }) {
  const { fields, system, rows } = of
  const word = what.toLowerCase()
  return (
    <>
      {rows.value.map((_, at) => (
        <fieldset key={at} class="stack">
          <legend>
            {what} {at + 1}
          </legend>
          <SheetForm of={of} at={at} />
          <div class="row">
            <Button class="quiet" onClick={() => (rows.value = rows.value.toSpliced(at, 1))}>
              Remove {word} {at + 1}
            </Button>
          </div>
        </fieldset>
      ))}
      <div class="row">
        <Button onClick={() => (rows.value = [...rows.value, rows.value.at(-1) ?? blank(fields, system)])}>
          Add a {word}
        </Button>
      </div>
    </>
  )
}
