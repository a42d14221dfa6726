import type { ComponentChildren } from 'preact'

export function PanelHead({ title, children }: { title: string; children?: ComponentChildren }) {
  return (
    <header class="panel-head line">
      <h2>{title}</h2>
      {children}
    </header>
  )
}
