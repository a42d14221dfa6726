import { effect, signal } from '@preact/signals'
import { theme } from './settings.ts'

/** The look in force: what the user chose, or what the device prefers. */
const prefersNight = matchMedia('(prefers-color-scheme: dark)')
export const look = signal<'day' | 'night'>('day')
const settle = (): void => {
  look.value = theme.value === 'auto' ? (prefersNight.matches ? 'night' : 'day') : theme.value
  document.documentElement.dataset['look'] = look.value
}
prefersNight.addEventListener('change', settle)
effect(settle)
