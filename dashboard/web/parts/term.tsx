import { useSignal } from '@preact/signals'
import { t } from '#analysis/reasons/language.ts'
import { Button } from './fields.tsx'

/** The rows of the glossary's table: term → meaning. */
export const glossaryOf = (page: string): ReadonlyMap<string, string> =>
  new Map(
    [...page.matchAll(/^\| (.+?) \| (.+?) \|$/gm)].map(([, term = '', meaning = '']) => [term, meaning]),
  )

/** A `?` after a term: shows its definition from docs/glossary.md, which is loaded at the first tap. */
export function Term({ of }: { of: string }) {
  const meaning = useSignal<string | null>(null)
  const toggle = async (): Promise<void> => {
    if (meaning.value !== null) meaning.value = null
    else {
      const page = await import('../../../docs/glossary.md?raw')
      meaning.value = glossaryOf(page.default).get(of) ?? null
    }
  }
  return (
    <span class="term">
      <Button
        class="quiet"
        aria-label={t`What is ${of}?`}
        aria-expanded={meaning.value !== null}
        onClick={toggle}
      >
        ?
      </Button>
      {meaning.value && (
        <span class="term-meaning" role="status">
          {of}: {meaning.value}.
        </span>
      )}
    </span>
  )
}
