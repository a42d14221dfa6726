import type { Signal } from '@preact/signals'
import { shownUnits } from '#analysis/physics/unit-table.ts'
import { t } from '#analysis/reasons/language.ts'
import { Button, entry, Segmented } from '../parts/fields.tsx'
import {
  barometerUnit,
  keyHelpOpen,
  pressureUnit,
  singleKeys,
  sound,
  spokenWords,
  temperatureUnit,
  themeChoice,
  vibration,
  volumeUnit,
} from '../settings.ts'
import { play, speak, type TuneName, type tunes } from '../sound/player.ts'
import { onOrOff } from '../words.ts'

const switches = [
  { legend: t`Sound`, choice: sound, tried: () => play('at-pressure') },
  { legend: t`Vibration`, choice: vibration, tried: () => play('stage') },
  {
    legend: t`Spoken words`,
    choice: spokenWords,
    tried: () => speak(t`At pressure. Close the supply valve.`),
  },
]

/** Calls repeat until they are answered. */
const meanings: Readonly<Record<keyof typeof tunes, string>> = {
  stop: t`call: over the maximum pressure, or it rises too fast`,
  'pressure-lost': t`call: the pressure was lost`,
  'sensor-lost': t`call: a sensor, the logger or the bench is lost`,
  'at-pressure': t`call: the test pressure is reached`,
  settled: t`call: settled, the hold may start`,
  pass: t`call: decided, pass`,
  fail: t`call: decided, fail`,
  unsure: t`call: the hold proves nothing`,
  'time-over': t`call: the hold time is over`,
  stage: t`once: a stage began`,
}

function UnitChoice<T extends string>(props: {
  readonly legend: string
  readonly units: readonly { readonly symbol: T }[]
  readonly choice: Signal<T>
}) {
  return (
    <Segmented
      legend={props.legend}
      options={props.units.map(({ symbol }) => [symbol, symbol.replace(/^deg/, '°')] as const)}
      of={props.choice}
    />
  )
}

const themes = [
  ['auto', t`as the device`],
  ['day', t`day`],
  ['night', t`night`],
] as const

/** Settings of this device; a change of units updates every page at once. */
export function Display() {
  return (
    <div class="choices row low">
      <UnitChoice legend="Pressure" units={shownUnits.gauge} choice={pressureUnit} />
      <UnitChoice legend="Barometer" units={shownUnits.barometer} choice={barometerUnit} />
      <UnitChoice legend="Temperature" units={shownUnits.temperature} choice={temperatureUnit} />
      <UnitChoice legend="Volume" units={shownUnits.volume} choice={volumeUnit} />
      <Segmented legend="Look" options={themes} of={themeChoice} />
      {switches.map(({ legend, choice, tried }) => (
        <Segmented
          key={legend}
          legend={legend}
          options={onOrOff}
          of={entry(choice.value, (value) => {
            choice.value = value
            tried()
          })}
        />
      ))}
      <details>
        <summary>What each sound means</summary>
        <ul class="stack tight">
          {Object.entries(meanings).map(([tune, meaning]) => (
            <li key={tune} class="row">
              <Button onClick={() => play(tune as TuneName)}>Play</Button>
              {meaning}
            </li>
          ))}
        </ul>
      </details>
      <div class="choices row low">
        <Segmented legend="Single keys" options={onOrOff} of={singleKeys} />
        <Button
          class="quiet"
          onClick={() => {
            keyHelpOpen.value = true
          }}
        >
          Show the keys
        </Button>
      </div>
    </div>
  )
}
