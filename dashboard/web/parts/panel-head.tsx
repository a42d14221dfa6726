import type { ComponentChildren } from 'preact'
import { t } from '#analysis/reasons/language.ts'
import { address } from '../route.ts'

export function PanelHead({ title, children }: { title: string; children?: ComponentChildren }) {
  return (
    <header class="panel-head line">
      <h2>{title}</h2>
      {children}
    </header>
  )
}

/** The title of a page and the links to its parts. */
export function SideNav(props: {
  readonly title: string
  readonly page: string
  readonly of: string
  readonly parts: readonly (readonly [id: string, title: string, ...unknown[]])[]
  readonly here: string | undefined
}) {
  const { title, page, of, parts, here } = props
  return (
    <div class="setup-side">
      <h1>{title}</h1>
      <nav aria-label={t`Parts of the ${of}`}>
        <ul class="row">
          {parts.map(([id, word]) => (
            <li key={id}>
              <a href={address(page, id)} aria-current={here === id ? 'page' : undefined}>
                {word}
              </a>
            </li>
          ))}
        </ul>
      </nav>
    </div>
  )
}
