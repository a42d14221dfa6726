import { useSignal } from '@preact/signals'
import type { System } from '#analysis/model/system.ts'
import { t } from '#analysis/reasons/language.ts'
import type { FirstFile } from '#dashboard/api.ts'
import { mayOperate, systemText } from '../live/bench.ts'
import { Errors } from '../parts/facts.tsx'
import { Button, entry, Field, onSubmit } from '../parts/fields.tsx'
import { PanelHead } from '../parts/panel-head.tsx'
import { useAnswer } from '../parts/use-answer.ts'
import { address, go } from '../route.ts'
import { editFile, replaceFile } from './edit-file.ts'
import { PartForm, type PartList, partWords } from './part-form.tsx'
import { SystemDrawing } from './system-drawing.tsx'

const lists = Object.keys(partWords) as PartList[]
const noSuspects: ReadonlyMap<string, number> = new Map()

interface Props {
  readonly system: System
  /** List and id of the part whose form is open; without an id, a new part. */
  readonly part: readonly string[]
}

/** Draws the aircraft from a layout, then part by part. Each step edits the system file. */
export function DrawSystem({ system, part: [named, given] }: Props) {
  const id = given ?? null
  const list = lists.find((one) => one === named)
  const pick = (of: PartList, one: string): void => go('system', 'draw', of, one)
  return (
    <div class="system-view draw-view stack">
      <h1 class="unseen-on-phone">{system.name}</h1>
      <section class="panel stack drawing-panel" aria-label="Drawing">
        <PanelHead title="Drawing">
          <a href={address('setup', 'file')}>The file</a>
          <a href={address('system')}>Done</a>
        </PanelHead>
        <p class="soft">
          Tap a part to change it, or add one. Each change is checked, and saved in the system file.
        </p>
        <SystemDrawing
          system={system}
          ledger={null}
          picked={id}
          suspects={noSuspects}
          onPick={(one) => pick('fittings', one)}
          onPart={pick}
        />
        {[['sections', 'valves', 'fittings'] as const, ['holds'] as const, ['channels'] as const].map(
          (row) => (
            <div key={row[0]} class="row part-row">
              {mayOperate.value &&
                row.map((one) => (
                  <a key={one} class="button" href={address('system', 'draw', one)}>
                    + {partWords[one]}
                  </a>
                ))}
              {namesIn(system, row[0]).map((name) => (
                <a key={name} href={address('system', 'draw', row[0], name)}>
                  {name}
                </a>
              ))}
            </div>
          ),
        )}
      </section>
      <div class="stack side">
        {list && <PartForm key={`${list} ${id}`} list={list} id={id} onDone={() => go('system', 'draw')} />}
        {mayOperate.value && <Begin system={system} />}
      </div>
    </div>
  )
}

/** Names of parts that the drawing does not show; a movable gauge is one entry, whatever its places. */
function namesIn(system: System, list: PartList): readonly string[] {
  if (list === 'holds') return system.holds.map(({ id }) => id)
  return list === 'channels' ? [...new Set(system.channels.map(({ id, movable }) => movable?.id ?? id))] : []
}

/** The form for the nearest layout and the aircraft's name. */
function Begin({ system }: { system: System }) {
  const { value, error } = useAnswer<readonly FirstFile[]>('/api/layouts', systemText.value).value
  const picked = useSignal<Partial<Pick<FirstFile, 'layout' | 'instruments'>>>({})
  const name = useSignal(system.name)
  const errors = useSignal<readonly string[]>([])
  const files = value ?? []
  // The file is still an unedited layout.
  const isFirst = files.some(({ text }) => text === systemText.value)
  const { layout = '', instruments = '' } = { ...files[0], ...picked.value }
  const file = files.find((one) => one.layout === layout && one.instruments === instruments)
  const choose = (key: 'layout' | 'instruments', label: string, word: 'about' | 'with') => (
    <Field
      label={label}
      of={entry({ layout, instruments }[key], (one) => {
        picked.value = { ...picked.value, [key]: one }
      })}
      options={[...new Map(files.map((one) => [one[key], one[word]]))]}
    />
  )
  return (
    <section class="panel stack" aria-label="Begin">
      <form
        class="row"
        onSubmit={onSubmit(async () => {
          errors.value = await editFile(
            [{ list: null, id: null, keys: { name: name.value } }],
            t`The aircraft is called ${name.value}.`,
          )
        })}
      >
        <Field label="Name of the aircraft, on every report" of={name} maxLength={80} />
        <button type="submit" disabled={name.value.trim() === '' || name.value === system.name}>
          Rename
        </button>
      </form>
      <details open={isFirst}>
        <summary>Begin from a generic layout</summary>
        <div class="stack tight">
          {choose('layout', t`Layout nearest to yours`, 'about')}
          {choose('instruments', t`What you measure with`, 'with')}
          <div class="row">
            <Button
              class={isFirst ? 'main' : ''}
              disabled={file === undefined}
              onClick={async () => {
                errors.value = await replaceFile(file!.text, t`A new drawing is begun.`)
                if (errors.value.length === 0) go('system', 'draw')
              }}
            >
              Begin with it
            </Button>
            <span class="small soft">
              {isFirst ? t`Its figures are placeholders: put in your own.` : t`It replaces the whole file.`}
            </span>
          </div>
        </div>
      </details>
      {error && <p class="note is-undecided">{error}</p>}
      <Errors of={errors.value} />
    </section>
  )
}
