import { useSignal } from '@preact/signals'
import { t } from '#analysis/reasons/language.ts'
import { asOptions, Button, Field } from '../parts/fields.tsx'
import { volumeUnit } from '../settings.ts'

/**
 * Bores of hoses and tubes, [mm]. Hoses by dash size as SAE J517 100R5 lists them, tubes of 0.035 inch wall, which is common
 * practice; both from memory, so the form asks for a measurement when the volume is decisive.
 */
const bores: Readonly<Record<string, number>> = {
  [t`hose -4`]: 4.8,
  [t`hose -6`]: 7.9,
  [t`hose -8`]: 10.3,
  [t`hose -10`]: 12.7,
  [t`tube 1/4 in`]: 4.6,
  [t`tube 3/8 in`]: 7.7,
  [t`tube 1/2 in`]: 10.9,
  [t`tube 5/8 in`]: 14.1,
}
/** A tank has expansion space of at least 2 %: 14 CFR 23.969 (2014). */
const expansion = 1.02
const litersPerGallon = 3.785411784
const millimetresPerFoot = 304.8

interface Props {
  readonly isTank: boolean
  /** In the notation of the file: `0.0735 L ± 10 %`. */
  readonly onVolume: (text: string) => void
}

/** Computes the volume of a section from printed data: hose size and length, or tank capacity. */
export function VolumeOfPart({ isTank, onVolume }: Props) {
  const size = useSignal(t`hose -6`)
  const typed = useSignal('')
  const isUs = volumeUnit.value !== 'L'
  const amount = Number(typed.value.replace(',', '.'))
  const bore = bores[size.value] ?? Number.NaN
  const liters = ((Math.PI / 4) * bore ** 2 * amount * (isUs ? millimetresPerFoot : 1000)) / 1e6
  const found = isTank ? amount * expansion : liters / (isUs ? litersPerGallon : 1)
  return (
    <details>
      <summary>{isTank ? t`Volume from the tank’s capacity` : t`Volume from hose size and length`}</summary>
      <div class="row">
        {!isTank && (
          <Field label={t`Size (bore ${bore} mm)`} of={size} options={asOptions(Object.keys(bores))} />
        )}
        <Field
          label={isTank ? t`Capacity, ${volumeUnit.value}` : t`Length, ${isUs ? 'ft' : 'm'}`}
          inputMode="decimal"
          of={typed}
        />
        <Button
          disabled={!(found > 0)}
          onClick={() =>
            onVolume(`${Number(found.toPrecision(3))} ${volumeUnit.value} ± ${isTank ? 5 : 10} %`)
          }
        >
          Use this volume
        </Button>
      </div>
      <p class="small soft">
        {isTank
          ? t`Its capacity and 2 % room for expansion. Unusable fuel counts as capacity here.`
          : t`Bore squared times length. Valves and filters add their own: measure the volume where it matters.`}
      </p>
    </details>
  )
}
