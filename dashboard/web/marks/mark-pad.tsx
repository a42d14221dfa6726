import { useSignal } from '@preact/signals'
import type { Fitting } from '#analysis/model/system.ts'
import { t } from '#analysis/reasons/language.ts'
import { bench, system, tell } from '../live/bench.ts'
import { Dialog } from '../parts/dialog.tsx'
import { Button, Field, Segmented } from '../parts/fields.tsx'
import { PanelHead } from '../parts/panel-head.tsx'
import { toast } from '../parts/toast.tsx'
import { useTask } from '../parts/use-answer.ts'
import { type Finding, findings, kindWords, markWord } from '../words.ts'
import { sendMark } from './outbox.ts'
import { MarkList, openPartTools, ValveTools } from './part-tools.tsx'

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
    <ul class="fitting-pad cells" data-key={key}>
      {fittings.map((one) => (
        <li key={one.id}>
          <Button class={just.value?.startsWith(`${one.id} `) ? 'is-just' : ''} onClick={() => tap(one)}>
            <span class="fitting-id">{one.id}</span>
            <span class="fitting-name small soft">{one.name || kindWords[one.kind]}</span>
          </Button>
        </li>
      ))}
    </ul>
  )

  return (
    <section class="panel marks" aria-label="Mark looks and work">
      <PanelHead title="Mark looks and work">
        {bench.value?.hold && <PhotoButton fitting={marked} />}
        <Button data-key="note" onClick={() => (isWriting.value = true)}>
          Write a note
        </Button>
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
          <Button
            onClick={() => {
              note.value = ''
              isWriting.value = false
            }}
          >
            Cancel
          </Button>
        </div>
      </Dialog>
    </section>
  )
}

/** Longest side of a sent photo, [px]: enough to show a weeping joint, small enough for a slow network. */
const LONGEST_PX = 1600

/** Takes a photo with the phone's camera and attaches it to the running hold and the fitting marked last. */
function PhotoButton({ fitting }: { fitting: string | null }) {
  const { busy, run } = useTask()
  const send = (file: File | undefined) =>
    run(async () => {
      if (!file) return
      await tell('/api/hold/photo', { fitting, base64: await smaller(file) })
      toast(fitting === null ? t`Photo kept.` : t`Photo kept: ${fitting}.`)
    })
  return (
    <label class={`button photo-button ${busy.value ? 'is-busy' : ''}`}>
      {busy.value ? t`Sending…` : fitting === null ? t`Photo` : t`Photo of ${fitting}`}
      <input
        type="file"
        class="unseen"
        accept="image/*"
        capture="environment"
        disabled={busy.value}
        onChange={(event) => {
          void send(event.currentTarget.files?.[0])
          event.currentTarget.value = ''
        }}
      />
    </label>
  )
}

/** The photo scaled down, as a JPEG in base64. */
async function smaller(file: File): Promise<string> {
  const picture = await createImageBitmap(file)
  const scale = Math.min(1, LONGEST_PX / Math.max(picture.width, picture.height))
  const canvas = document.createElement('canvas')
  canvas.width = Math.round(picture.width * scale)
  canvas.height = Math.round(picture.height * scale)
  canvas.getContext('2d')!.drawImage(picture, 0, 0, canvas.width, canvas.height)
  return canvas.toDataURL('image/jpeg', 0.85).replace(/^data:[^,]*,/, '')
}
