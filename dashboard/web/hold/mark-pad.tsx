import { useSignal } from '@preact/signals'
import { useRef } from 'preact/hooks'
import type { Fitting } from '#analysis/model/system.ts'
import type { LiveState, NewMark } from '#dashboard/api.ts'
import { post } from '../api-client.ts'
import { system, take } from '../live/bench.ts'
import { toast, toastError } from '../parts/toast.tsx'
import { actions, findings, kindWords } from '../words.ts'
import { PhotoButton } from './photo-button.tsx'

type Tool = { readonly kind: 'look' | 'work'; readonly what: string }

export async function sendMark(mark: NewMark, words: string): Promise<void> {
  try {
    take(await post<LiveState>('/api/mark', mark))
    toast(`Marked: ${words}.`)
  } catch (error) {
    toastError(error)
  }
}

interface Props {
  readonly sections: readonly string[]
  /** True while the section may be under pressure: work then needs a second word. */
  readonly underPressure: boolean
}

/** What was seen or done is chosen once; then every fitting is one tap. */
export function MarkPad({ sections, underPressure }: Props) {
  const tool = useSignal<Tool>({ kind: 'look', what: 'bubbles' })
  const just = useSignal<string | null>(null)
  const marked = useSignal<string | null>(null)
  const warn = useRef<HTMLDialogElement>(null)
  const note = useRef<HTMLDialogElement>(null)
  const noteText = useSignal('')
  const waiting = useSignal<Fitting | null>(null)
  const all = system.value?.fittings ?? []
  const near = all.filter((one) => sections.includes(one.section))
  const far = all.filter((one) => !sections.includes(one.section))

  const send = async (fitting: Fitting): Promise<void> => {
    const { kind, what } = tool.value
    const mark = `${fitting.id} ${what}`
    // A second tap that follows at once is the same mark.
    if (just.value === mark) return
    just.value = mark
    marked.value = fitting.id
    await sendMark(
      { kind, id: fitting.id, fields: kind === 'look' ? { finding: what } : { action: what } },
      mark,
    )
    setTimeout(() => {
      if (just.value === mark) just.value = null
    }, 1500)
  }
  const tap = (fitting: Fitting): void => {
    if (tool.value.kind === 'work' && underPressure) {
      waiting.value = fitting
      warn.current?.showModal()
    } else void send(fitting)
  }
  const button = (one: Fitting) => (
    <li key={one.id}>
      <button
        type="button"
        class={just.value?.startsWith(`${one.id} `) ? 'is-just' : ''}
        onClick={() => tap(one)}
      >
        <span class="fitting-id">{one.id}</span>
        <span class="fitting-name">{one.name || kindWords[one.kind]}</span>
      </button>
    </li>
  )
  const pick = (kind: Tool['kind'], what: string) => (
    <label key={what} class={tool.value.what === what ? 'is-picked' : ''}>
      <input
        type="radio"
        name="mark-tool"
        value={what}
        checked={tool.value.what === what}
        onChange={() => {
          tool.value = { kind, what }
        }}
      />
      {what}
    </label>
  )

  return (
    <section class="panel marks" aria-labelledby="marks-title">
      <header class="panel-head">
        <h2 id="marks-title">Mark a fitting</h2>
        <PhotoButton fitting={marked.value} />
        <button type="button" data-key="note" onClick={() => note.current?.showModal()}>
          Write a note
        </button>
      </header>
      <fieldset class="segmented tools-row">
        <legend>Seen</legend>
        <div class="segments">{findings.map((what) => pick('look', what))}</div>
      </fieldset>
      <fieldset class="segmented tools-row">
        <legend>Done</legend>
        <div class="segments">{actions.map((what) => pick('work', what))}</div>
      </fieldset>
      <p class="soft small" id="tap-means">
        A tap marks <strong>{tool.value.what}</strong> on that fitting, now.
        {tool.value.kind === 'work' &&
          underPressure &&
          ' Vent first: no fitting is tightened under pressure.'}
      </p>
      <ul class="fitting-pad" data-key="marks" aria-describedby="tap-means">
        {near.map(button)}
      </ul>
      {far.length > 0 && (
        <details>
          <summary>Fittings outside this hold ({far.length})</summary>
          <ul class="fitting-pad">{far.map(button)}</ul>
        </details>
      )}

      <dialog ref={warn} aria-labelledby="warn-title">
        <form method="dialog" class="stack">
          <h2 id="warn-title">Under pressure?</h2>
          <p>
            Never tighten or open a fitting under pressure. If {waiting.value?.id} was worked on during this
            hold, mark it all the same: the hold then proves nothing and says so.
          </p>
          <div class="row">
            <button type="submit" class="main">
              Not yet: vent first
            </button>
            <button
              type="button"
              onClick={() => {
                warn.current?.close()
                if (waiting.value) void send(waiting.value)
              }}
            >
              It was worked on: mark it
            </button>
          </div>
        </form>
      </dialog>
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
