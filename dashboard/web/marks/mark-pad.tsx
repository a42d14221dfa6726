import { useSignal } from '@preact/signals'
import type { Fitting } from '#analysis/model/system.ts'
import { t } from '#analysis/reasons/language.ts'
import { PhotoButton } from '../hold/photo-button.tsx'
import { bench, system } from '../live/bench.ts'
import { Dialog } from '../parts/dialog.tsx'
import { Field } from '../parts/fields.tsx'
import { PanelHead } from '../parts/panel-head.tsx'
import { Segmented } from '../parts/segmented.tsx'
import { type Finding, findings, kindWords, markWord } from '../words.ts'
import { MarkList } from './mark-list.tsx'
import { openPartTools } from './part-dialog.tsx'
import { ValveTools } from './part-tools.tsx'
import { sendMark } from './send-mark.ts'

const tools = [['ask', t`asks`] as const, ...findings]

/** Fittings to mark: a tap opens the tools of one, or applies the mark that was chosen for many. */
export function MarkPad({ sections }: { readonly sections: readonly string[] }) {
  const tool = useSignal<'ask' | Finding>('ask')
  const just = useSignal<string | null>(null)
  const isWriting = useSignal(false)
  const note = useSignal('')
  const all = system.value?.fittings ?? []
  const marked = bench.value?.marks.findLast(({ kind }) => kind === 'look' || kind === 'work')?.id ?? null
  const near = all.filter((one) => sections.includes(one.section))
  const far = all.filter((one) => !sections.includes(one.section))
  const valves = (system.value?.valves ?? []).filter(({ between }) =>
    between.some((one) => sections.includes(one)),
  )

  const tap = async ({ id }: Fitting): Promise<void> => {
    const finding = tool.value
    if (finding === 'ask') return openPartTools(id)
    const mark = `${id} ${markWord(finding)}`
    // Debounce: an immediate second tap is the same mark.
    if (just.value === mark) return
    just.value = mark
    await sendMark({ kind: 'look', id, fields: { finding } }, mark)
    setTimeout(() => {
      if (just.value === mark) just.value = null
    }, 1500)
  }
  const pad = (fittings: readonly Fitting[], key?: string) => (
    <ul class="fitting-pad" data-key={key}>
      {fittings.map((one) => (
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
      ))}
    </ul>
  )

  return (
    <section class="panel marks" aria-label="Mark looks and work">
      <PanelHead title="Mark looks and work">
        {bench.value?.hold && <PhotoButton fitting={marked} />}
        <button type="button" data-key="note" onClick={() => (isWriting.value = true)}>
          Write a note
        </button>
      </PanelHead>
      <div class="tools-row">
        <Segmented legend="A tap on a fitting" options={tools} of={tool} />
      </div>
      {pad(near, 'marks')}
      {far.length > 0 && (
        <details>
          <summary>Fittings outside this hold ({far.length})</summary>
          {pad(far)}
        </details>
      )}
      {valves.length > 0 && (
        <details>
          <summary>Valves ({valves.length})</summary>
          <ValveTools valves={valves} />
        </details>
      )}
      <MarkList />
      <Dialog
        title="Note"
        open={isWriting}
        onSubmit={() => {
          const text = note.value.trim()
          if (text !== '') void sendMark({ kind: 'note', fields: { text } }, t`note`)
          note.value = ''
        }}
      >
        <Field label="What happened, such as “door opened, sun on the wing”" of={note} maxLength={500} />
        <div class="row">
          <button type="submit" class="main">
            Write it down
          </button>
          <button
            type="button"
            onClick={() => {
              note.value = ''
              isWriting.value = false
            }}
          >
            Cancel
          </button>
        </div>
      </Dialog>
    </section>
  )
}
