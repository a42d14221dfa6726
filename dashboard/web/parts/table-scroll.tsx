import type { ComponentChildren } from 'preact'

/** A wide table on a narrow screen: scrolls by itself, by keyboard too. */
export function TableScroll({ label, children }: { label: string; children: ComponentChildren }) {
  return (
    // biome-ignore lint/a11y/noNoninteractiveTabindex: what scrolls must be reached by keyboard
    <section class="table-scroll" aria-label={label} tabIndex={0}>
      {children}
    </section>
  )
}
