import { signal } from '@preact/signals'

/** Who makes the entries on this device, as long as the page is open. */
export const person = signal('')

/** Day and minute in the bench's own zone. */
export const shortTime = (iso: string): string =>
  new Date(iso).toLocaleString(undefined, { dateStyle: 'short', timeStyle: 'short' })
