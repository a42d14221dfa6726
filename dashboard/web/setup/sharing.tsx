import { t } from '#analysis/reasons/language.ts'
import type { Sharing as SharingAnswer } from '#dashboard/api.ts'
import { toast, toastError } from '../parts/toast.tsx'
import { useAnswer } from '../parts/use-answer.ts'

/** How a phone at the wing or a second screen opens the page. */
export function Sharing() {
  const answer = useAnswer<SharingAnswer>('/api/sharing').value
  if (answer.error) return <p class="note is-undecided">{answer.error}</p>
  if (answer.value === null) return <p class="soft">Asking the server…</p>
  const { links, advice } = answer.value
  return (
    <div class="stack tight">
      <p>{advice}</p>
      {links.length > 0 && (
        <ul class="links">
          {links.map((one) => (
            <li key={one.url} class="row">
              <span class="link-role">{one.role === 'operator' ? t`may operate` : t`may watch`}</span>
              <code>{one.url}</code>
              <button
                type="button"
                onClick={() => {
                  navigator.clipboard?.writeText(one.url).then(
                    () => toast(t`Copied.`),
                    () => toastError(t`The browser does not allow copying here: select the address instead.`),
                  )
                }}
              >
                Copy
              </button>
            </li>
          ))}
        </ul>
      )}
    </div>
  )
}
