import type { ComponentType } from 'preact'

/**
 * One page of the dashboard. A file `pages/<name>-page.tsx` that exports `page` is found by itself:
 * nothing else has to be edited to add one.
 */
export interface Page {
  /** First part of the address after `#/`. */
  readonly path: string
  /** Word in the navigation. */
  readonly title: string
  /** Place in the navigation, ascending. */
  readonly order: number
  readonly view: ComponentType<PageProps>
}

export interface PageProps {
  /** Parts of the address after the page's own, decoded: `#/records/0001-x/over/0002-y` → three parts. */
  readonly rest: readonly string[]
}

const files = import.meta.glob<{ page: Page }>('./pages/*-page.tsx', { eager: true })

export const pages: readonly Page[] = Object.values(files)
  .map((file) => file.page)
  .sort((a, b) => a.order - b.order)
