import { useSignal } from '@preact/signals'
import type { ComponentChildren } from 'preact'
import { useEffect, useRef } from 'preact/hooks'

/**
 * A column: its title, in parentheses when only a screen reader reads it; its cell; and its class, `head` for
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
  /** With a label, the table scrolls when it is wider than the screen. */
  readonly label?: string
}

/** A table whose cells repeat the column title, since a phone stacks the cells. */
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
 * A wide table on a narrow screen scrolls, by keyboard too. On a phone a table of class `stacks` shows its cells
 * as rows instead, each number after its column title, from the cell's `data-label`.
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
    // A scrollable table must be focusable by keyboard; any other is no tab stop.
    <section ref={box} class="table-scroll" aria-label={label} tabIndex={scrolls.value ? 0 : undefined}>
      {children}
    </section>
  )
}
