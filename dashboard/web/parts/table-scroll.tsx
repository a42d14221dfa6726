import { useSignal } from '@preact/signals'
import type { ComponentChildren } from 'preact'
import { useEffect, useRef } from 'preact/hooks'

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
