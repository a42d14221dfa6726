import { useSignal } from '@preact/signals'
import { useEffect, useRef } from 'preact/hooks'
import { plural, t } from '#analysis/reasons/language.ts'
import type { JsonSchema } from '#ingest/system-file/description.ts'
import type {
  SystemEdit,
  WrittenEntry,
  WrittenParts,
  WrittenValue,
} from '#ingest/system-file/edit-system-file.ts'
import { bench, mayOperate, systemText } from '../live/bench.ts'
import { Errors } from '../parts/facts.tsx'
import { asOptions, Button, entry, Field, onSubmit, Ticks } from '../parts/fields.tsx'
import { useAnswer } from '../parts/use-answer.ts'
import { numberOf } from '../quantity.ts'
import { go } from '../route.ts'
import { pressureUnit, volumeUnit } from '../settings.ts'
import { editFile } from './edit-file.ts'

/**
 * Bores of hoses and tubes, [mm]. Hoses by dash size as SAE J517 100R5 lists them, tubes of 0.035 inch wall, which is common
 * practice; both from memory, so the form asks for a measurement when the volume is decisive.
 */
const bores: Readonly<Record<string, number>> = {
  [t`hose -4`]: 4.8,
  [t`hose -6`]: 7.9,
  [t`hose -8`]: 10.3,
  [t`hose -10`]: 12.7,
  [t`tube 1/4 in`]: 4.6,
  [t`tube 3/8 in`]: 7.7,
  [t`tube 1/2 in`]: 10.9,
  [t`tube 5/8 in`]: 14.1,
}
/** A tank has expansion space of at least 2 %: 14 CFR 23.969 (2014). */
const expansion = 1.02
const litersPerGallon = 3.785411784
const millimetresPerFoot = 304.8

interface VolumeProps {
  readonly isTank: boolean
  /** In the notation of the file: `0.0735 L ± 10 %`. */
  readonly onVolume: (text: string) => void
}

/** Computes the volume of a section from printed data: hose size and length, or tank capacity. */
function VolumeOfPart({ isTank, onVolume }: VolumeProps) {
  const size = useSignal(t`hose -6`)
  const typed = useSignal('')
  const isUs = volumeUnit.value !== 'L'
  const amount = numberOf(typed.value)
  const bore = bores[size.value] ?? Number.NaN
  const liters = ((Math.PI / 4) * bore ** 2 * amount * (isUs ? millimetresPerFoot : 1000)) / 1e6
  const found = isTank ? amount * expansion : liters / (isUs ? litersPerGallon : 1)
  return (
    <details>
      <summary>{isTank ? t`Volume from the tank’s capacity` : t`Volume from hose size and length`}</summary>
      <div class="row">
        {!isTank && (
          <Field label={t`Size (bore ${bore} mm)`} of={size} options={asOptions(Object.keys(bores))} />
        )}
        <Field
          label={isTank ? t`Capacity, ${volumeUnit.value}` : t`Length, ${isUs ? 'ft' : 'm'}`}
          inputMode="decimal"
          of={typed}
        />
        <Button
          disabled={!(found > 0)}
          onClick={() =>
            onVolume(`${Number(found.toPrecision(3))} ${volumeUnit.value} ± ${isTank ? 5 : 10} %`)
          }
        >
          Use this volume
        </Button>
      </div>
      <p class="small soft">
        {isTank
          ? t`Its capacity and 2 % room for expansion. Unusable fuel counts as capacity here.`
          : t`Bore squared times length. Valves and filters add their own: measure the volume where it matters.`}
      </p>
    </details>
  )
}

export const partWords = {
  sections: t`section`,
  valves: t`valve`,
  fittings: t`fitting`,
  holds: t`hold`,
  channels: t`gauge`,
} as const
export type PartList = keyof typeof partWords

type FieldValue = string | readonly string[]
/** Values by the path of the key: `id`, `allow.drop`. Keys without a field, such as tags, are unchanged. */
export type FormValues = Readonly<Record<string, FieldValue | Readonly<Record<string, string>>>>

/** Implied units of a bare number. */
const bareUnits = (): Readonly<Record<string, string>> => ({
  volume: volumeUnit.value,
  capacity: volumeUnit.value,
  unusable: volumeUnit.value,
  pressure: pressureUnit.value,
  'max-pressure': pressureUnit.value,
  'max-vacuum': pressureUnit.value,
  'allow.drop': pressureUnit.value,
  'allow.rise': pressureUnit.value,
  'allow.leak': 'scc/min',
  settle: 'min',
  hold: 'min',
  torque: 'N·m',
})
/** Keys whose value is an id, or ids, of another list. */
const namedList: Readonly<Record<string, PartList>> = {
  section: 'sections',
  sections: 'sections',
  places: 'sections',
  between: 'sections',
  rig: 'sections',
  shut: 'valves',
  behind: 'fittings',
}
/** Rarely needed, so folded. */
const seldom =
  /^(max-vacuum|stretch|unusable|material|behind|time|proof|rig|accuracy|on|serial|allow\.(rise|leak))$|^from\./
/** Edited elsewhere: a calibration in its own form, a scale and tags in the file. */
const elsewhere = /^(calibration|scale|from\.tags)$/

interface Props {
  readonly list: PartList
  /** Null: a new part. */
  readonly id: string | null
  /** Initial values by path. */
  readonly draft?: FormValues
  readonly onDone: () => void
}

/**
 * One part of the system file as a form. Its fields and their descriptions are from the file's schema; values
 * are shown as written. A save updates the file and the drawing at once.
 */
export function PartForm(props: Props) {
  const { value, error } = useAnswer<FileParts>('/api/system/parts', systemText.value).value
  if (value === null) return <p class="soft">{error ?? t`Reading the form…`}</p>
  return <Form {...props} {...value} />
}

interface FileParts {
  readonly parts: WrittenParts
  readonly schema: JsonSchema
}

function Form({ list, id, draft, onDone, parts, schema }: Props & FileParts) {
  const box = useRef<HTMLFormElement>(null)
  useEffect(() => box.current?.scrollIntoView({ block: 'nearest' }), [])
  const written = parts[list]?.find((one) => one.id === id)
  const known = written === undefined ? {} : flat(written)
  const values = useSignal<FormValues>({ ...known, ...(id === null && fresh(list, parts)), ...draft })
  const errors = useSignal<readonly string[]>([])
  const isHolding = bench.value?.hold !== null
  const word = partWords[list]
  const fields = fieldsOf(schema.properties?.[list]?.items ?? {})
  const set = (path: string, value: FieldValue): void => {
    const shut = id === null && path === 'sections' && { shut: closing(parts, value) }
    values.value = { ...values.value, [path]: value, ...shut }
  }
  const send = async (edits: readonly SystemEdit[], said: string): Promise<void> => {
    errors.value = await editFile(edits, said)
    if (errors.value.length === 0) onDone()
  }
  const save = (): Promise<void> => {
    const now = Object.fromEntries(
      Object.entries(values.value).map(([path, value]) => [path, withUnit(path, value)]),
    )
    const touched = Object.keys(now).filter((path) => String(now[path]) !== String(known[path] ?? ''))
    const keys = Object.fromEntries(touched.map((path) => keyOf(path, now)))
    const name = String(now.id)
    const edits: SystemEdit[] = [{ list, id, keys }]
    if (list === 'sections' && id === null) edits.push(...placesOf(parts, name))
    return send(edits, id === null ? t`${name} is added.` : t`${name} is saved.`)
  }
  const shown = ({ path, schema, isRequired }: FormField) => {
    const now = (values.value[path] ?? '') as FieldValue
    const unit = bareUnits()[path]
    const words = path.replace(/^\w+\./, '').replaceAll('-', ' ')
    const label = `${words.charAt(0).toUpperCase()}${words.slice(1)}${unit ? `, ${unit}` : ''}`
    const from = namedList[path]
    const ids = from ? idsOf(parts, from) : schema.enum
    const options = ids && asOptions(ids)
    return (
      <div key={path} class="stack tight" data-from="file">
        {options && schema.type?.includes('array') ? (
          <Ticks
            legend={label}
            about={schema.description}
            of={entry([now].flat().filter(Boolean), (value) => set(path, value))}
            options={options}
          />
        ) : (
          <Field
            label={label}
            about={schema.description}
            of={entry(String(now), (value) => set(path, value))}
            options={options && (isRequired && now !== '' ? options : [['', '–'], ...options])}
            maxLength={100}
            spellcheck={false}
          />
        )}
        {path === 'volume' && (
          <VolumeOfPart isTank={values.value.kind === 'tank'} onVolume={(text) => set('volume', text)} />
        )}
      </div>
    )
  }

  return (
    <form
      ref={box}
      class="panel stack part-form"
      aria-label={id === null ? t`New ${word}` : word}
      onSubmit={onSubmit(save)}
    >
      <header class="panel-head line">
        <h2>{id === null ? t`New ${word}` : id}</h2>
        <Button class="quiet" onClick={onDone}>
          Close
        </Button>
      </header>
      {fields.filter(({ path }) => !seldom.test(path)).map(shown)}
      {fields.some(({ path }) => seldom.test(path)) && (
        <details>
          <summary>More</summary>
          <div class="stack">{fields.filter(({ path }) => seldom.test(path)).map(shown)}</div>
        </details>
      )}
      <Errors of={errors.value} />
      {isHolding && <p class="soft">A hold is running on this file: change it after the hold.</p>}
      {mayOperate.value && (
        <div class="row">
          <button type="submit" class="main" disabled={isHolding}>
            {id === null ? t`Add the ${word}` : t`Save`}
          </button>
          {id !== null && (
            <Button
              disabled={isHolding}
              onClick={() =>
                void send([{ list, id, keys: null }], t`${id} is removed.`).then(() => go('system', 'draw'))
              }
            >
              Remove it
            </Button>
          )}
          {id !== null && list === 'sections' && <span class="small soft">{goesWith(parts, id)}</span>}
        </div>
      )}
    </form>
  )
}

interface FormField {
  readonly path: string
  readonly schema: JsonSchema
  readonly isRequired: boolean
}

function fieldsOf({ properties = {}, required = [] }: JsonSchema, above = ''): FormField[] {
  return Object.entries(properties).flatMap(([key, schema]) => {
    const path = above + key
    if (elsewhere.test(path)) return []
    if (schema.properties) return fieldsOf(schema, `${path}.`)
    return [{ path, schema, isRequired: required.includes(key) }]
  })
}

/** The values of an entry by path. */
function flat(entry: WrittenEntry): FormValues {
  return Object.fromEntries(
    Object.entries(entry).flatMap(([key, value]) =>
      typeof value === 'object' && !Array.isArray(value)
        ? Object.entries(value).map(([inner, one]) => [`${key}.${inner}`, one])
        : [[key, value]],
    ),
  ) as FormValues
}

function withUnit(path: string, value: FieldValue | Readonly<Record<string, string>>) {
  const unit = bareUnits()[path]
  return unit && typeof value === 'string' && /^\s*[-−]?[\d.,]+\s*$/.test(value)
    ? `${value.trim().replace(',', '.').replace('−', '-')} ${unit}`
    : value
}

/** The file's key of a path, with its values from the form; null removes it. */
function keyOf(path: string, values: FormValues): [key: string, value: WrittenValue | null] {
  const [key = path, inner] = path.split('.')
  const value = values[key] ?? ''
  if (inner === undefined) return [key, value.length === 0 ? null : value]
  const all = Object.entries(values).filter(([one, value]) => one.startsWith(`${key}.`) && value !== '')
  return [key, Object.fromEntries(all.map(([one, value]) => [one.slice(key.length + 1), value]))]
}

const idsOf = (parts: WrittenParts, list: PartList): readonly string[] =>
  (parts[list] ?? []).map(({ id }) => id)

/** The ids that a part refers to: one or several. */
const named = (entry: WrittenEntry, key: string): readonly string[] => [entry[key] ?? []].flat() as string[]

/** The valves that isolate these sections: those with one side inside. */
const closing = (parts: WrittenParts, sections: FieldValue): readonly string[] =>
  (parts.valves ?? []).flatMap((valve) => {
    const sides = named(valve, 'between')
    const inside = sides.filter((one) => sections.includes(one)).length
    return inside === 1 ? [valve.id] : []
  })

/** A gauge that serves every section serves the new one too. */
const placesOf = (parts: WrittenParts, section: string): SystemEdit[] =>
  (parts.channels ?? []).flatMap((gauge) => {
    const places = named(gauge, 'places')
    const isEverywhere = places.length > 0 && places.length === idsOf(parts, 'sections').length
    return isEverywhere ? [{ list: 'channels', id: gauge.id, keys: { places: [...places, section] } }] : []
  })

function goesWith(parts: WrittenParts, section: string): string {
  const alone = (list: PartList, key: string): number => {
    const { length } = (parts[list] ?? []).filter((one) => String(named(one, key)) === section)
    return length
  }
  const [fittings, holds] = [alone('fittings', 'section'), alone('holds', 'sections')]
  const these = plural(fittings, { one: t`${fittings} fitting`, other: t`${fittings} fittings` })
  const those = plural(holds, { one: t`${holds} hold`, other: t`${holds} holds` })
  return t`This also removes ${these}, ${those} and what is on it alone.`
}

/** The next free id, and the common values of this kind of part. */
function fresh(list: PartList, parts: WrittenParts): FormValues {
  const taken = idsOf(parts, list)
  const [section = ''] = idsOf(parts, 'sections')
  const beginnings: Readonly<Record<PartList, readonly [stem: string, digits: number, values: FormValues]>> =
    {
      sections: ['section-', 1, { kind: 'line', medium: 'air' }],
      valves: ['V', 1, { kind: 'shut-off' }],
      fittings: ['F', 2, { kind: 'flare', section }],
      holds: ['hold-', 1, { settle: '2', hold: '10' }],
      channels: ['gauge-', 1, { measures: 'gauge-pressure' }],
    }
  const [stem, digits, values] = beginnings[list]
  const ids = taken.map((_, i) => taken.length + 1 + i).concat(1)
  const id = ids.map((n) => stem + String(n).padStart(digits, '0')).find((one) => !taken.includes(one))!
  return { ...values, id }
}
