import { useSignal } from '@preact/signals'
import { useEffect, useRef } from 'preact/hooks'
import { t } from '#analysis/reasons/language.ts'
import type { SystemFileError } from '#dashboard/api.ts'
import { get, put } from '../api-client.ts'
import { bench, mayOperate, type SystemAnswer, systemText, takeSystem, typedText } from '../live/bench.ts'
import { Button } from '../parts/fields.tsx'
import { toast, toastError } from '../parts/toast.tsx'
import { useTask } from '../parts/use-answer.ts'
import { address } from '../route.ts'

/** The system file as text, with each error at its line. */
export function FileEditor() {
  const text = typedText
  const errors = useSignal<readonly SystemFileError[]>([])
  const scroll = useSignal(0)
  const { busy, run } = useTask()
  const area = useRef<HTMLTextAreaElement>(null)

  useEffect(() => {
    get<SystemAnswer>('/api/system').then((answer) => {
      text.value ??= answer.text
      errors.value = answer.errors
    }, toastError)
    return () => {
      if (text.peek() === systemText.peek()) text.value = null
    }
  }, [])

  // The file was saved elsewhere on this page, such as by a calibration: untouched text is updated.
  const last = useRef(systemText.value)
  useEffect(() => {
    if (text.value === last.current) text.value = systemText.value
    last.current = systemText.value
  }, [systemText.value])

  if (text.value === null) return <p class="soft">Reading the file…</p>
  const lines = text.value.split('\n')
  const changed = text.value !== systemText.value

  const goTo = (error: SystemFileError): void => {
    const box = area.current!
    const start = lines.slice(0, error.line - 1).reduce((sum, line) => sum + line.length + 1, 0)
    box.focus()
    box.setSelectionRange(start + Math.max(0, error.column - 1), start + (lines[error.line - 1]?.length ?? 0))
    const lineHeight = box.scrollHeight / lines.length
    box.scrollTop = Math.max(0, (error.line - 4) * lineHeight)
  }
  const save = () =>
    run(async () => {
      const answer = await put<SystemAnswer>('/api/system', { text: text.value })
      errors.value = answer.errors
      const [first] = answer.errors
      if (first) return goTo(first)
      takeSystem(answer)
      text.value = answer.text
      toast(t`The system file is saved and in force.`)
    })

  const marked = new Set(errors.value.map((one) => one.line))
  return (
    <div class="stack">
      <p>
        <a href={address('system', 'draw')}>Draw the system instead</a>: forms write this file, and what you
        type here shows in the drawing.
      </p>
      <div class="editor">
        <div class="gutter" aria-hidden="true">
          <pre style={{ transform: `translateY(${-scroll.value}px)` }}>
            {lines.map((_, i) => (
              <span key={i} class={marked.has(i + 1) ? 'is-failed' : ''}>
                {marked.has(i + 1) ? '◆ ' : ''}
                {i + 1}
                {'\n'}
              </span>
            ))}
          </pre>
        </div>
        <textarea
          ref={area}
          aria-label="System file"
          aria-describedby="file-errors"
          aria-invalid={errors.value.length > 0}
          spellcheck={false}
          wrap="off"
          readOnly={!mayOperate.value}
          value={text.value}
          onScroll={(event) => {
            scroll.value = event.currentTarget.scrollTop
          }}
          onInput={(event) => {
            text.value = event.currentTarget.value
          }}
        />
      </div>
      <div id="file-errors" role="status">
        {errors.value.length > 0 && (
          <ul class="file-errors stack tight">
            {errors.value.map((one) => (
              <li key={`${one.line} ${one.column} ${one.message}`} class="note is-failed row">
                <Button onClick={() => goTo(one)}>Line {one.line}</Button>
                <span>{one.message}</span>
              </li>
            ))}
          </ul>
        )}
      </div>
      {mayOperate.value && (
        <div class="row">
          <Button
            class="main"
            disabled={busy.value || !changed || bench.value?.hold !== null}
            onClick={() => save()}
          >
            Check and save
          </Button>
          <Button
            class="quiet"
            disabled={!changed}
            onClick={() => {
              text.value = systemText.value
              errors.value = []
            }}
          >
            Back to the saved file
          </Button>
          {bench.value?.hold !== null && (
            <span class="soft">A hold is running on this file: save after it.</span>
          )}
        </div>
      )}
      <p class="small soft">Tab leaves the editor. Records keep the file as it was when they were sealed.</p>
    </div>
  )
}
