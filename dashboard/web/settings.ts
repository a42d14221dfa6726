import { effect, type Signal, signal } from '@preact/signals'
import type { DisplayUnits } from '#analysis/reasons/figures.ts'

export type PressureUnit = 'psi' | 'inH2O' | 'inHg' | 'kPa' | 'bar'
export type TemperatureUnit = 'degC' | 'degF'
export type VolumeUnit = 'L' | 'gal'
export type Theme = 'auto' | 'day' | 'night'

/** A choice of this device: kept in the browser, never sent. */
function kept<T extends string>(name: string, first: T, allowed: readonly T[]): Signal<T> {
  let start = first
  try {
    const stored = localStorage.getItem(`stillhold.${name}`)
    start = allowed.find((one) => one === stored) ?? first
  } catch {
    // Storage is refused in some private windows: the choice then lasts as long as the page.
  }
  const choice = signal(start)
  effect(() => {
    try {
      localStorage.setItem(`stillhold.${name}`, choice.value)
    } catch {
      // As above.
    }
  })
  return choice
}

export const pressureUnits = ['psi', 'inH2O', 'inHg', 'kPa', 'bar'] as const
const temperatureUnits = ['degC', 'degF'] as const
const volumeUnits = ['L', 'gal'] as const
const themes = ['auto', 'day', 'night'] as const

export const pressureUnit = kept<PressureUnit>('pressure', 'psi', pressureUnits)
export const temperatureUnit = kept<TemperatureUnit>('temperature', 'degC', temperatureUnits)
export const volumeUnit = kept<VolumeUnit>('volume', 'L', volumeUnits)
export const themeChoice = kept<Theme>('theme', 'auto', themes)
/** Units of sentences and tables; reads signals, so what calls it follows a switch of units. */
export const displayUnits = (): DisplayUnits => ({
  pressure: pressureUnit.value,
  temperature: temperatureUnit.value,
  volume: volumeUnit.value === 'gal' ? 'US gal' : 'L',
})
export const sound = kept<'on' | 'off'>('calls', 'on', ['on', 'off'])
export const vibration = kept<'on' | 'off'>('vibration', 'on', ['on', 'off'])
export const spokenWords = kept<'on' | 'off'>('spoken-words', 'off', ['on', 'off'])
export const singleKeys = kept<'on' | 'off'>('keys', 'on', ['on', 'off'])
