import { signal, useSignal } from '@preact/signals'
import { useEffect, useMemo, useRef } from 'preact/hooks'
import type { System } from '#analysis/model/system.ts'
import { t } from '#analysis/reasons/language.ts'
import { bench, marks, mayOperate, system } from '../live/bench.ts'
import { Button, Field, Segmented } from '../parts/fields.tsx'
import { digits, numberOf } from '../quantity.ts'
import { operatorName, rememberedText } from '../settings.ts'
import { type Action, actions, findings } from '../words.ts'
import { markWords, sendMark, takeBack } from './outbox.ts'

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

interface Props {
  readonly id: string
  /** Published torque of a fitting, [N·m]; undefined for the hoses, seams and walls of a section. */
  readonly torqueNm?: readonly [number, number] | null
  /** Called after a mark. */
  readonly onMarked?: () => void
}

/** Marks looks at a fitting or a section and work on it, one tap each; torque and name are remembered. */
export function PartTools({ id, torqueNm, onMarked }: Props) {
  const isFitting = torqueNm !== undefined
  const range = torqueNm ? t`${digits(torqueNm[0], 1)} to ${digits(torqueNm[1], 1)}` : ''
  const action = useSignal<Action>('retighten')
  // The last value typed for this part, never a guess: the record lists it as measured.
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
    const typedNm = numberOf(torque.value)
    const by = operatorName.value.trim()
    void mark(
      'work',
      {
        action: action.value,
        ...(isFitting && typedNm > 0 && { torque_Nm: typedNm }),
        ...(cure.value.trim() && { cure: cure.value.trim() }),
        ...(by && { by }),
      },
      done[action.value],
    )
  }
  return (
    <div class="part-tools stack tight">
      <h3>Seen at {id}</h3>
      <p class="tool-row row">
        {findings.map(([finding, word]) => (
          <Button key={finding} onClick={() => mark('look', { finding }, word)}>
            {word}
          </Button>
        ))}
      </p>
      <h3>Done to {id}</h3>
      <Segmented legend={t`Work on ${id}`} quietLegend options={actions} of={action} />
      <div class="cells">
        {isFitting && <Field label="Torque, N·m" of={torque} inputMode="decimal" placeholder={range} />}
        <Field label="Sealant cures for, such as 24 h" of={cure} />
        <Field label="Done by" of={operatorName} />
      </div>
      {isUnderPressure() && (
        <p class="note is-failed">
          Never tighten or open a fitting under pressure: vent first. If it was worked on, mark it: this hold
          then proves nothing.
        </p>
      )}
      <Button class="large main" onClick={markWork}>
        {isUnderPressure()
          ? t`${id} was ${done[action.value]} under pressure: mark it`
          : t`I ${done[action.value]} ${id}`}
      </Button>
      {isFitting && (
        <>
          <h3>Plug at {id}</h3>
          <p class="tool-row row">
            <Button onClick={() => mark('plug', { in: true }, t`plug in`)}>Plug in</Button>
            <Button onClick={() => mark('plug', { in: false }, t`plug out`)}>Plug out</Button>
          </p>
        </>
      )}
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
      <ul class="valve-rows stack tight">
        {valves.map(({ id, name }) => (
          <li key={id}>
            <span>
              <strong>{id}</strong> {name}
            </span>
            {ways(id).map(([open, word, words]) => (
              <Button key={word} aria-label={words} onClick={() => move(id, open, words)}>
                {word}
              </Button>
            ))}
          </li>
        ))}
      </ul>
    </div>
  )
}

/** Marks that a plug is out, where the ledger still has it in. */
export function PlugOut({ id, onOut }: { readonly id: string; readonly onOut: () => void }) {
  if (!mayOperate.value) return null
  return (
    <Button
      onClick={async () => {
        await sendMark({ kind: 'plug', id, fields: { in: false } }, t`${id} is out`)
        onOut()
      }}
    >
      {id} is out
    </Button>
  )
}

/** Id of the fitting, section or valve whose tools are open; null while none are. */
const opened = signal<string | null>(null)

export const openPartTools = (id: string): void => {
  opened.value = id
}

/** The tools of one fitting, section or valve, over the current page. */
export function PartDialog() {
  const dialog = useRef<HTMLDialogElement>(null)
  const id = opened.value
  useEffect(() => {
    if (id === null) dialog.current?.close()
    else dialog.current?.showModal()
  }, [id])
  const { fittings = [], sections = [], valves = [] } = system.value ?? {}
  const fitting = fittings.find((one) => one.id === id)
  const section = sections.find((one) => one.id === id)
  const close = (): void => {
    opened.value = null
  }
  return (
    <dialog ref={dialog} class="part-dialog" aria-labelledby="part-title" onClose={close}>
      <header class="panel-head line">
        <h2 id="part-title">
          {id} <span class="unit">{fitting?.name ?? (section && t`hoses, seams and walls`)}</span>
        </h2>
        <Button onClick={close}>Close</Button>
      </header>
      {id !== null && (fitting || section) && (
        <PartTools key={id} id={id} torqueNm={fitting?.torqueNm} onMarked={close} />
      )}
      <ValveTools valves={valves.filter((one) => one.id === id)} onMarked={close} />
    </dialog>
  )
}

const byHand = /^(valve|work|look|note|stroke|plug|fill)$/
const shownAtMost = 12

/** The marks of this session, newest first, each with a button that takes it back. */
export function MarkList({ id }: { readonly id?: string }) {
  const made = marks.value
    .filter(
      (one) => byHand.test(one.kind) && one.text !== 'state sheet' && (id === undefined || one.id === id),
    )
    .slice(-shownAtMost)
    .reverse()
  if (made.length === 0) return null
  return (
    <details class="mark-list">
      <summary>Marks made ({made.length})</summary>
      <ul class="valve-rows stack tight">
        {made.map((one) => (
          <li key={one.ns}>
            <span>{markWords(one)}</span>
            {mayOperate.value && (
              <Button aria-label={t`Take back ${markWords(one)}`} onClick={() => takeBack(one)}>
                Take back
              </Button>
            )}
          </li>
        ))}
      </ul>
    </details>
  )
}
