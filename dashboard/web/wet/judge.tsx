import { signal, useSignal } from '@preact/signals'
import type { ComponentChildren } from 'preact'
import type { LookMethod, SeepScheme } from '#analysis/fuel-work/looks.ts'
import type { SheetForms } from '#analysis/fuel-work/sheet-fields.ts'
import type { WetStage } from '#analysis/fuel-work/wet-stages.ts'
import type { Verdict, WordedReason } from '#analysis/model/hold-result.ts'
import type { System } from '#analysis/model/system.ts'
import { t } from '#analysis/reasons/language.ts'
import type { SavedSheet } from '#dashboard/api.ts'
import { post } from '../api-client.ts'
import { mayOperate } from '../live/bench.ts'
import { Reasons, Trouble } from '../parts/facts.tsx'
import { Button, Field } from '../parts/fields.tsx'
import { StateWord } from '../parts/state-mark.tsx'
import { toast } from '../parts/toast.tsx'
import { useTrouble } from '../parts/use-answer.ts'
import { address } from '../route.ts'

interface Judged {
  readonly verdict: Verdict
  readonly reasons: readonly WordedReason[]
}

/** A file attached to a sheet. */
export interface Attached {
  readonly name: string
  readonly base64?: string
  readonly text?: string
}

/** Judge first, then sign and lock: nothing is archived unseen. */
export function Judge<T extends Judged>(props: {
  readonly path: string
  readonly sheet: () => object
  readonly photos?: readonly Attached[]
  readonly recordings?: readonly Attached[]
  readonly children?: (result: T) => ComponentChildren
}) {
  const { wrong, tell } = useTrouble()
  const found = useSignal<readonly T[]>([])
  const judged = useSignal('')
  const records = useSignal<readonly string[]>([])
  const operator = useSignal('')
  const current = JSON.stringify(props.sheet())
  const ask = (seal: boolean) =>
    tell(async () => {
      const { photos = [], recordings = [] } = props
      const body = { sheet: props.sheet(), seal, operator: operator.value, photos, recordings }
      const answer = await post<{ results: T[]; records: string[] }>(props.path, body)
      found.value = answer.results
      judged.value = current
      records.value = answer.records
      if (seal) toast(t`Signed and locked as ${answer.records.join(', ')}.`)
    })
  return (
    <div class="stack wet-judge">
      <div class="row low">
        <Button class="main" disabled={!mayOperate.value} onClick={() => ask(false)}>
          Judge
        </Button>
        <Field label="Initials or name" of={operator} />
        <Button
          disabled={!mayOperate.value || judged.value !== current || records.value.length > 0}
          onClick={() => ask(true)}
        >
          Sign and lock into the archive
        </Button>
      </div>
      <Trouble of={wrong} />
      {found.value.map((result, i) => (
        <section key={i} class={`panel stack is-${result.verdict}`} aria-label="Result">
          <h3>
            <StateWord state={result.verdict} />{' '}
            {records.value[i] && <a href={address('records', records.value[i])}>{records.value[i]}</a>}
          </h3>
          <Reasons of={result.reasons} />
          {props.children?.(result)}
        </section>
      ))}
    </div>
  )
}

/** Author of the entries on this device; kept while the page is open. */
export const person = signal('')

/** Answer of `/api/wet`. */
export interface Known {
  readonly stages: readonly WetStage[]
  readonly scheme: SeepScheme
  readonly methods: readonly { readonly name: LookMethod; readonly sees: string }[]
  /** Published torque range of each fitting, in words. */
  readonly ranges: readonly { readonly id: string; readonly words: string | null }[]
  readonly forms: SheetForms
}

/** Common props of the parts of the fuel work. */
export interface PartProps {
  readonly system: System
  readonly known: Known
}

/** Access to one saved sheet. */
export interface OnSheet {
  readonly sheet: SavedSheet['sheet']
  /** Entries are disabled, for everyone or on this device. */
  readonly off: boolean
  readonly enter: (entry: object) => void
}
