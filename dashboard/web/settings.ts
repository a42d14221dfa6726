import { effect, type Signal, signal } from '@preact/signals'
import type { System } from '#analysis/model/system.ts'
import { shownUnits } from '#analysis/physics/unit-table.ts'
import { type DisplayUnits, unitsOfSystem } from '#analysis/reasons/figures.ts'

export type Theme = 'auto' | 'day' | 'night'

const keyOf = (name: string): string => `stillhold.${name}`

/** The stored value of a name on this device; null when there is none. */
function recall(name: string): string | null {
  try {
    return localStorage.getItem(keyOf(name))
  } catch {
    // Some private windows refuse storage: values then last as long as the page.
    return null
  }
}

function keep(name: string, text: string): void {
  try {
    localStorage.setItem(keyOf(name), text)
  } catch {
    // As above.
  }
}

/** A value that this device remembers as JSON; `none` until there is one. */
export function rememberedJson<T>(name: string, none: T): Signal<T> {
  let known = none
  try {
    known = JSON.parse(recall(name) ?? '') as T
  } catch {
    // Nothing is stored, or it is damaged.
  }
  const value = signal(known)
  value.subscribe((now) => keep(name, JSON.stringify(now)))
  return value
}

/** A text that this device remembers, such as who works at it. */
export function rememberedText(name: string): Signal<string> {
  const text = signal(recall(name) ?? '')
  text.subscribe((value) => keep(name, value))
  return text
}

type Follower = (system: System) => void
const followers: Follower[] = []

/**
 * A choice of this device: kept in the browser, never sent.
 *
 * @param ofSystem default from the aircraft's system file, until the user chooses on this device
 */
function kept<T extends string>(
  name: string,
  first: T,
  allowed: readonly T[],
  ofSystem?: (system: System) => string | undefined,
): Signal<T> {
  const stored = recall(name)
  const own = allowed.find((one) => one === stored)
  let chosen = own !== undefined
  let suggested = own ?? first
  const choice = signal(suggested)
  effect(() => {
    if (!chosen && choice.value === suggested) return
    chosen = true
    keep(name, choice.value)
  })
  if (ofSystem)
    followers.push((system) => {
      const wanted = allowed.find((one) => one === ofSystem(system))
      if (chosen || wanted === undefined) return
      suggested = wanted
      choice.value = wanted
    })
  return choice
}

/** Uses the units of the aircraft wherever this device has no choice of its own. */
export function followSystem(system: System): void {
  for (const follow of followers) follow(system)
}

const symbols = <S extends string>(units: readonly { readonly symbol: S }[]): S[] =>
  units.map(({ symbol }) => symbol)

export const pressureUnit = kept(
  'pressure',
  'psi',
  symbols(shownUnits.gauge),
  (system) => unitsOfSystem(system).pressure,
)
export const barometerUnit = kept(
  'barometer',
  'hPa',
  symbols(shownUnits.barometer),
  (system) => system.channels.find(({ measures }) => measures === 'barometric-pressure')?.unit,
)
export const temperatureUnit = kept(
  'temperature',
  'degC',
  symbols(shownUnits.temperature),
  (system) => unitsOfSystem(system).temperature,
)
export const volumeUnit = kept('volume', 'L', symbols(shownUnits.volume))
export const themeChoice = kept<Theme>('theme', 'auto', ['auto', 'day', 'night'])
/** Units of sentences and tables; reads signals, so a caller is updated when the units change. */
export const displayUnits = (): DisplayUnits => ({
  pressure: pressureUnit.value,
  temperature: temperatureUnit.value,
  volume: volumeUnit.value,
})
/** Adds this device's units to a request whose answer has sentences. */
export function withUnits(path: string): string {
  const { pressure, temperature, volume } = displayUnits()
  const units = encodeURIComponent([pressure, temperature, volume].join())
  return `${path}${path.includes('?') ? '&' : '?'}units=${units}`
}
const onOff = (name: string, first: 'on' | 'off') => kept<'on' | 'off'>(name, first, ['on', 'off'])
export const sound = onOff('calls', 'on')
export const vibration = onOff('vibration', 'on')
export const spokenWords = onOff('spoken-words', 'off')
export const singleKeys = onOff('keys', 'on')
/** The operator at this device, for holds and work. */
export const operatorName = rememberedText('operator')
export const witnessName = rememberedText('witness')
/** Whether the list of single keys is shown; not kept. */
export const keyHelpOpen = signal(false)

export const switchSound = (): void => {
  sound.value = sound.value === 'on' ? 'off' : 'on'
}
