import { useSignal } from '@preact/signals'
import { useMemo } from 'preact/hooks'
import type { Fitting, System } from '#analysis/model/system.ts'
import { t } from '#analysis/reasons/language.ts'
import { bench } from '../live/bench.ts'
import { Field } from '../parts/fields.tsx'
import { Segmented } from '../parts/segmented.tsx'
import { digits } from '../quantity.ts'
import { operatorName, rememberedText } from '../settings.ts'
import { type Action, actions, findings } from '../words.ts'
import { sendMark } from './send-mark.ts'

const done = {
  retighten: t`retightened`,
  remake: t`remade`,
  reseal: t`resealed`,
  replace: t`replaced`,
} as const

/** Whether a section may be under pressure: work then voids the hold. */
const isUnderPressure = (): boolean => {
  const hold = bench.value?.hold
  return hold !== null && hold !== undefined && hold.stage !== 'vent'
}

const rangeWords = ({ torqueNm }: Fitting): string =>
  torqueNm === null ? '' : t`${digits(torqueNm[0], 1)} to ${digits(torqueNm[1], 1)}`

interface Props {
  readonly fitting: Fitting
  /** Called after a mark. */
  readonly onMarked?: () => void
}

/** Marks looks at a fitting and work on it, one tap each; torque and name are remembered. */
export function FittingTools({ fitting, onMarked }: Props) {
  const { id } = fitting
  const action = useSignal<Action>('retighten')
  // The last value typed for this fitting, never a guess: the record lists it as measured.
  const torque = useMemo(() => rememberedText(`torque.${id}`), [id])
  const cure = useSignal('')
  const mark = async (
    kind: 'look' | 'work' | 'plug',
    fields: Parameters<typeof sendMark>[0]['fields'],
    words: string,
  ) => {
    await sendMark({ kind, id, fields }, `${id} ${words}`)
    onMarked?.()
  }
  const markWork = (): void => {
    const torqueNm = Number(torque.value.replace(',', '.'))
    const by = operatorName.value.trim()
    void mark(
      'work',
      {
        action: action.value,
        ...(torque.value.trim() !== '' && torqueNm > 0 ? { torque_Nm: torqueNm } : {}),
        ...(cure.value.trim() === '' ? {} : { cure: cure.value.trim() }),
        ...(by === '' ? {} : { by }),
      },
      done[action.value],
    )
  }
  return (
    <div class="part-tools stack tight">
      <h3>Seen at {id}</h3>
      <p class="tool-row">
        {findings.map(([finding, word]) => (
          <button type="button" key={finding} onClick={() => void mark('look', { finding }, word)}>
            {word}
          </button>
        ))}
      </p>
      <h3>Done to {id}</h3>
      <Segmented legend={t`Work on ${id}`} quietLegend options={actions} of={action} />
      <div class="names">
        <Field label="Torque, N·m" of={torque} inputMode="decimal" placeholder={rangeWords(fitting)} />
        <Field label="Sealant cures for, such as 24 h" of={cure} />
        <Field label="Done by" of={operatorName} />
      </div>
      {isUnderPressure() && (
        <p class="note is-failed">
          Never tighten or open a fitting under pressure: vent first. If it was worked on, mark it: this hold
          then proves nothing.
        </p>
      )}
      <button type="button" class="large main" onClick={markWork}>
        {isUnderPressure()
          ? t`${id} was ${done[action.value]} under pressure: mark it`
          : t`I ${done[action.value]} ${id}`}
      </button>
      <h3>Plug at {id}</h3>
      <p class="tool-row">
        <button type="button" onClick={() => void mark('plug', { in: true }, t`plug in`)}>
          Plug in
        </button>
        <button type="button" onClick={() => void mark('plug', { in: false }, t`plug out`)}>
          Plug out
        </button>
      </p>
    </div>
  )
}

/** Marks a moved valve with its new position. */
export function ValveTools({ valves, onMarked }: { valves: System['valves']; onMarked?: () => void }) {
  if (valves.length === 0) return null
  const move = async (id: string, open: boolean, words: string): Promise<void> => {
    await sendMark({ kind: 'valve', id, fields: { open } }, words)
    onMarked?.()
  }
  const ways = (id: string) =>
    [
      [true, t`Opened`, t`${id} opened`],
      [false, t`Shut`, t`${id} shut`],
    ] as const
  return (
    <div class="part-tools stack tight">
      <h3>Valve moved</h3>
      <ul class="valve-rows">
        {valves.map(({ id, name }) => (
          <li key={id}>
            <span>
              <strong>{id}</strong> {name}
            </span>
            {ways(id).map(([open, word, words]) => (
              <button key={word} type="button" aria-label={words} onClick={() => void move(id, open, words)}>
                {word}
              </button>
            ))}
          </li>
        ))}
      </ul>
    </div>
  )
}
