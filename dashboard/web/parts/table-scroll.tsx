import { useSignal } from '@preact/signals'
import type { ComponentChildren } from 'preact'
import { useEffect, useRef } from 'preact/hooks'

/**
 * A column: its title, in parentheses where it is only heard; what a row shows in it; and its class, which is `head` for
 * the cell that names the row.
 */
export type Column<R> = readonly [
  title: string,
  cell: (row: R, i: number) => ComponentChildren,
  kind?: string,
]

interface Props<R> {
  readonly columns: readonly Column<R>[]
  readonly rows: readonly R[]
  readonly caption?: string
  readonly class?: string
  /** Named, it scrolls by itself where it is wider than the screen. */
  readonly label?: string
}

/** A table with the title of its column at each cell, where a phone puts the cells under each other. */
export function Table<R>({ columns, rows, caption, class: look = 'stacks', label }: Props<R>) {
  const table = (
    <table class={look}>
      {caption && <caption>{caption}</caption>}
      <thead>
        <tr>
          {columns.map(([title, , kind]) => (
            <th key={title} scope="col" class={kind === 'number' ? kind : undefined}>
              {title.startsWith('(') ? <span class="unseen">{title.slice(1, -1)}</span> : title}
            </th>
          ))}
        </tr>
      </thead>
      <tbody>
        {rows.map((row, i) => (
          <tr key={i}>
            {columns.map(([title, cell, kind]) =>
              kind === 'head' ? (
                <th key={title} scope="row">
                  {cell(row, i)}
                </th>
              ) : (
                <td key={title} class={kind} data-label={title.startsWith('(') ? undefined : title}>
                  {cell(row, i)}
                </td>
              ),
            )}
          </tr>
        ))}
      </tbody>
    </table>
  )
  return label ? <TableScroll label={label}>{table}</TableScroll> : table
}

/**
 * A wide table on a narrow screen: scrolls by itself, by keyboard too. On a phone a table of class `stacks` stands row
 * under row instead, each number behind the word of its column, which its cell gives as `data-label`.
 */
export function TableScroll({ label, children }: { label: string; children: ComponentChildren }) {
  const box = useRef<HTMLElement>(null)
  const scrolls = useSignal(false)
  useEffect(() => {
    const host = box.current!
    const sizes = new ResizeObserver(() => {
      scrolls.value = host.scrollWidth > host.clientWidth + 1
    })
    sizes.observe(host)
    for (const child of host.children) sizes.observe(child)
    return () => sizes.disconnect()
  }, [])
  return (
    // What scrolls must be reached by keyboard, and what does not is no stop on the way.
    <section ref={box} class="table-scroll" aria-label={label} tabIndex={scrolls.value ? 0 : undefined}>
      {children}
    </section>
  )
}
