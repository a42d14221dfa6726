import { useSignal } from '@preact/signals'
import type { FirstFile } from '#dashboard/api.ts'
import { useAnswer } from '../parts/use-answer.ts'

/** A first system file of a generic layout, put into the editor: nothing is saved by it. */
export function BeginFromLayout({ onPick }: { onPick: (text: string) => void }) {
  const isOpen = useSignal(false)
  const layout = useSignal('')
  const instruments = useSignal('')
  const { value, error } = useAnswer<readonly FirstFile[]>(isOpen.value ? '/api/layouts' : null).value
  const files = value ?? []
  const [first] = files
  const unique = (of: (file: FirstFile) => readonly [string, string]) => [...new Map(files.map(of))]
  const picked = files.find(
    (file) =>
      file.layout === (layout.value || first?.layout) &&
      file.instruments === (instruments.value || first?.instruments),
  )
  return (
    <details
      onToggle={(event) => {
        isOpen.value = event.currentTarget.open
      }}
    >
      <summary>Begin from a generic layout</summary>
      <div class="stack tight">
        {error && <p class="note is-undecided">{error}</p>}
        <label class="field">
          <span>Layout nearest to yours</span>
          <select onChange={(event) => (layout.value = event.currentTarget.value)}>
            {unique((file) => [file.layout, file.about]).map(([id, about]) => (
              <option key={id} value={id}>
                {about}
              </option>
            ))}
          </select>
        </label>
        <label class="field">
          <span>What you measure with</span>
          <select onChange={(event) => (instruments.value = event.currentTarget.value)}>
            {unique((file) => [file.instruments, file.with]).map(([id, about]) => (
              <option key={id} value={id}>
                {about}
              </option>
            ))}
          </select>
        </label>
        <div class="row">
          <button type="button" disabled={picked === undefined} onClick={() => picked && onPick(picked.text)}>
            Put it into the editor
          </button>
          <span class="small soft">
            Its figures are placeholders. Nothing is saved before you check and save.
          </span>
        </div>
      </div>
    </details>
  )
}
