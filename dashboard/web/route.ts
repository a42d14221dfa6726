import { computed, signal } from '@preact/signals'

const read = (): readonly string[] =>
  location.hash
    .replace(/^#\/?/, '')
    .split('/')
    .filter((part) => part !== '')
    .map((part) => {
      try {
        return decodeURIComponent(part)
      } catch {
        return part
      }
    })

const parts = signal(read())

addEventListener('hashchange', () => {
  parts.value = read()
})

/** The first part names the page; the page reads the rest. */
export const route = computed(() => ({ path: parts.value[0] ?? 'hold', rest: parts.value.slice(1) }))

export const address = (...to: readonly string[]): string => `#/${to.map(encodeURIComponent).join('/')}`

export const go = (...to: readonly string[]): void => {
  location.hash = address(...to)
}

export interface PageProps {
  /** Parts of the address after the page's own, decoded: `#/records/0001-x/over/0002-y` → three parts. */
  readonly rest: readonly string[]
}
