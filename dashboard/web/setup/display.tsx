import { openKeyHelp } from '../keys.tsx'
import { play } from '../live/chime.ts'
import { Segmented } from '../parts/segmented.tsx'
import {
  pressureUnit,
  pressureUnits,
  singleKeys,
  sound,
  temperatureUnit,
  themeChoice,
  volumeUnit,
} from '../settings.ts'

/** Choices of this device; a switch of units is seen on every page at once. */
export function Display() {
  return (
    <div class="choices">
      <Segmented
        legend="Pressure"
        options={pressureUnits.map((one) => ({ value: one, word: one }))}
        value={pressureUnit.value}
        onPick={(value) => {
          pressureUnit.value = value
        }}
      />
      <Segmented
        legend="Temperature"
        options={[
          { value: 'degC', word: '°C' },
          { value: 'degF', word: '°F' },
        ]}
        value={temperatureUnit.value}
        onPick={(value) => {
          temperatureUnit.value = value
        }}
      />
      <Segmented
        legend="Volume"
        options={[
          { value: 'L', word: 'liter' },
          { value: 'gal', word: 'US gallon' },
        ]}
        value={volumeUnit.value}
        onPick={(value) => {
          volumeUnit.value = value
        }}
      />
      <Segmented
        legend="Look"
        options={[
          { value: 'auto', word: 'as the device' },
          { value: 'day', word: 'day' },
          { value: 'night', word: 'night' },
        ]}
        value={themeChoice.value}
        onPick={(value) => {
          themeChoice.value = value
        }}
      />
      <Segmented
        legend="Sound on stage change, verdict and stop"
        options={[
          { value: 'on', word: 'on' },
          { value: 'off', word: 'off' },
        ]}
        value={sound.value}
        onPick={(value) => {
          sound.value = value
          play('pass')
        }}
      />
      <div class="row">
        <Segmented
          legend="Single keys"
          options={[
            { value: 'on', word: 'on' },
            { value: 'off', word: 'off' },
          ]}
          value={singleKeys.value}
          onPick={(value) => {
            singleKeys.value = value
          }}
        />
        <button type="button" class="quiet keys-button" onClick={openKeyHelp}>
          Show the keys
        </button>
      </div>
    </div>
  )
}
