import { type Signal, signal } from '@preact/signals'
import type { ComponentType } from 'preact'
import { t } from '#analysis/reasons/language.ts'
import { HoldPage } from './pages/hold-page.tsx'
import type { PageProps } from './route.ts'

type View = ComponentType<PageProps>

export interface Page {
  /** First part of the address after `#/`. */
  readonly path: string
  /** Name in the navigation. */
  readonly title: string
  /** Null until its code has loaded; an Error when loading failed. */
  readonly view: Signal<View | Error | null>
  readonly load: () => void
}

/** Lazy-loaded page: only the hold page is needed at once. */
function lazyPage(path: string, title: string, fetchView: () => Promise<View>): Page {
  const view = signal<View | Error | null>(null)
  let fetching = false
  const load = async (): Promise<void> => {
    if (fetching || typeof view.peek() === 'function') return
    fetching = true
    try {
      const loaded = await fetchView()
      view.value = loaded
    } catch {
      view.value = new Error(
        t`This page could not be loaded. Check that the program still runs on the bench computer, then reload.`,
      )
    }
    fetching = false
  }
  return { path, title, view, load: () => void load() }
}

export const holdPage: Page = { path: 'hold', title: t`Hold`, view: signal(HoldPage), load: () => {} }

/** The pages in navigation order. */
export const pages: readonly Page[] = [
  holdPage,
  lazyPage('system', t`System`, async () => (await import('./pages/system-page.tsx')).SystemPage),
  lazyPage('records', t`Records`, async () => (await import('./pages/records-page.tsx')).RecordsPage),
  lazyPage('wet', t`Fuel`, async () => (await import('./pages/wet-page.tsx')).WetPage),
  lazyPage('setup', t`Setup`, async () => (await import('./pages/setup-page.tsx')).SetupPage),
]
