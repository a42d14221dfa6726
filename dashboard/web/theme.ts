import { effect, signal } from '@preact/signals'
import { themeChoice } from './settings.ts'

const prefersNight = matchMedia('(prefers-color-scheme: dark)')

/** The current theme: the user's choice, or the device's preference. */
export const theme = signal<'day' | 'night'>('day')

const apply = (): void => {
  theme.value = themeChoice.value === 'auto' ? (prefersNight.matches ? 'night' : 'day') : themeChoice.value
  document.documentElement.dataset['theme'] = theme.value
}
prefersNight.addEventListener('change', apply)
effect(apply)

export const switchTheme = (): void => {
  themeChoice.value = theme.value === 'night' ? 'day' : 'night'
}
