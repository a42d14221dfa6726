import { useSignal } from '@preact/signals'
import { useRef } from 'preact/hooks'
import type { Fitting } from '#analysis/model/system.ts'
import { PhotoButton } from '../hold/photo-button.tsx'
import { bench, system } from '../live/bench.ts'
import { findings, kindWords } from '../words.ts'
import { MarkList } from './mark-list.tsx'
import { openPartTools } from './part-dialog.tsx'
import { ValveTools } from './part-tools.tsx'
import { sendMark } from './send-mark.ts'

const ask = 'ask'

/** Fittings to be marked: a tap opens the tools of one, or marks at once what was chosen to be marked on many. */
export function MarkPad({ sections }: { readonly sections: readonly string[] }) {
  const finding = useSignal<string>(ask)
  const just = useSignal<string | null>(null)
  const note = useRef<HTMLDialogElement>(null)
  const noteText = useSignal('')
  const all = system.value?.fittings ?? []
  const marked = bench.value?.marks.findLast(({ kind }) => kind === 'look' || kind === 'work')?.id ?? null
  const near = all.filter((one) => sections.includes(one.section))
  const far = all.filter((one) => !sections.includes(one.section))
  const valves = (system.value?.valves ?? []).filter(({ between }) =>
    between.some((one) => sections.includes(one)),
  )

  const tap = async ({ id }: Fitting): Promise<void> => {
    if (finding.value === ask) return openPartTools(id)
    const mark = `${id} ${finding.value}`
    // A second tap that follows at once is the same mark.
    if (just.value === mark) return
    just.value = mark
    await sendMark({ kind: 'look', id, fields: { finding: finding.value } }, mark)
    setTimeout(() => {
      if (just.value === mark) just.value = null
    }, 1500)
  }
  const button = (one: Fitting) => (
    <li key={one.id}>
      <button
        type="button"
        class={just.value?.startsWith(`${one.id} `) ? 'is-just' : ''}
        onClick={() => void tap(one)}
      >
        <span class="fitting-id">{one.id}</span>
        <span class="fitting-name">{one.name || kindWords[one.kind]}</span>
      </button>
    </li>
  )

  return (
    <section class="panel marks" aria-labelledby="marks-title">
      <header class="panel-head">
        <h2 id="marks-title">Mark looks and work</h2>
        {bench.value?.hold && <PhotoButton fitting={marked} />}
        <button type="button" data-key="note" onClick={() => note.current?.showModal()}>
          Write a note
        </button>
      </header>
      <fieldset class="segmented tools-row">
        <legend>A tap on a fitting</legend>
        <div class="segments">
          {[ask, ...findings].map((what) => (
            <label key={what} class={finding.value === what ? 'is-picked' : ''}>
              <input
                type="radio"
                name="mark-tool"
                value={what}
                checked={finding.value === what}
                onChange={() => {
                  finding.value = what
                }}
              />
              {what === ask ? 'asks' : what}
            </label>
          ))}
        </div>
      </fieldset>
      <ul class="fitting-pad" data-key="marks">
        {near.map(button)}
      </ul>
      {far.length > 0 && (
        <details>
          <summary>Fittings outside this hold ({far.length})</summary>
          <ul class="fitting-pad">{far.map(button)}</ul>
        </details>
      )}
      {valves.length > 0 && (
        <details>
          <summary>Valves ({valves.length})</summary>
          <ValveTools valves={valves} />
        </details>
      )}
      <MarkList />
      <dialog ref={note} aria-labelledby="note-title">
        <form
          method="dialog"
          class="stack"
          onSubmit={() => {
            const text = noteText.value.trim()
            if (text !== '') void sendMark({ kind: 'note', fields: { text } }, 'note')
            noteText.value = ''
          }}
        >
          <h2 id="note-title">Note</h2>
          <label class="field">
            <span>What happened, such as “door opened, sun on the wing”</span>
            <input
              type="text"
              maxLength={500}
              value={noteText.value}
              onInput={(event) => {
                noteText.value = event.currentTarget.value
              }}
            />
          </label>
          <div class="row">
            <button type="submit" class="main">
              Write it down
            </button>
            <button
              type="button"
              onClick={() => {
                noteText.value = ''
                note.current?.close()
              }}
            >
              Cancel
            </button>
          </div>
        </form>
      </dialog>
    </section>
  )
}
