import { useSignal } from '@preact/signals'
import { useEffect } from 'preact/hooks'
import { isoTime } from '#analysis/model/samples.ts'
import { t } from '#analysis/reasons/language.ts'
import type { ImportAnswer } from '#dashboard/api.ts'
import { base64Of, post } from '../api-client.ts'
import { mayOperate, system } from '../live/bench.ts'
import { Trouble } from '../parts/facts.tsx'
import { asOptions, Button, Check, Field, FileField } from '../parts/fields.tsx'
import { StateWord } from '../parts/state-mark.tsx'
import { Table } from '../parts/table-scroll.tsx'
import { toast } from '../parts/toast.tsx'
import { useTrouble } from '../parts/use-answer.ts'
import { moment } from '../quantity.ts'
import { go } from '../route.ts'
import { operatorName } from '../settings.ts'

const time = (ns: string): string => moment(isoTime(ns))

/** Imports a spreadsheet, another logger's file or a recording, after a preview of its interpretation. */
export function DropFile() {
  const file = useSignal<File | null>(null)
  const hold = useSignal('')
  const typed = useSignal(false)
  const answer = useSignal<ImportAnswer | null>(null)
  const { wrong, tell } = useTrouble()

  const send = async (operator: string | null): Promise<ImportAnswer> => {
    const { name, lastModified } = file.value!
    return post<ImportAnswer>('/api/import', {
      ...{ name, operator, typed: typed.value, changedMs: lastModified },
      base64: await base64Of(file.value!),
      zone: Intl.DateTimeFormat().resolvedOptions().timeZone,
      hold: hold.value || null,
    })
  }
  const look = (next = file.value ?? undefined) =>
    tell(async () => {
      if (!next) return
      file.value = next
      answer.value = null
      answer.value = await send(null)
    })
  const take = () =>
    tell(async () => {
      const taken = await send(operatorName.value.trim())
      toast(
        t`${file.value!.name} is in the archive as imported; a person accepts it before the ledger counts it.`,
      )
      file.value = null
      go('records', ...taken.records.slice(0, 1))
    })
  useEffect(() => {
    const over = (event: DragEvent): void => event.preventDefault()
    const drop = (event: DragEvent): void => {
      event.preventDefault()
      void look(event.dataTransfer?.files[0])
    }
    addEventListener('dragover', over)
    addEventListener('drop', drop)
    return () => {
      removeEventListener('dragover', over)
      removeEventListener('drop', drop)
    }
  }, [])
  useEffect(() => void look(), [hold.value, typed.value])
  if (!mayOperate.value) return null
  return (
    <details open={file.value !== null}>
      <summary>Import a file from another logger</summary>
      <div class="stack tight">
        <FileField
          label="CSV, TSV or recording: drop it on this page, or choose it"
          onPick={([first]) => look(first)}
        />
        <Field
          label="Hold it belongs to"
          of={hold}
          options={[['', t`as the file says`], ...asOptions((system.value?.holds ?? []).map(({ id }) => id))]}
        />
        <Check of={typed}>The readings were read by eye and typed</Check>
        <Trouble of={wrong} />
        {answer.value && <Understood answer={answer.value} name={file.value?.name ?? ''} />}
        {answer.value && (
          <div class="row">
            <Field label="Operator of the hold" of={operatorName} maxLength={80} />
            <Button class="main" disabled={operatorName.value.trim() === ''} onClick={() => take()}>
              Import it into the archive
            </Button>
          </div>
        )}
      </div>
    </details>
  )
}

function Understood({ answer, name }: { answer: ImportAnswer; name: string }) {
  const { about, columns, points, rejected, from, to, holds } = answer
  return (
    <>
      <p>
        <strong>{name}</strong>: {about}
        {from && to && t`; from ${time(from)} to ${time(to)}, ${points} rows read, ${rejected} rejected`}
      </p>
      {columns.length > 0 && (
        <Table
          label="Columns as understood"
          rows={columns}
          columns={[
            [t`column`, ({ title }) => title, 'head'],
            [t`first value`, ({ example }) => example],
            [t`is`, ({ means }) => means],
          ]}
        />
      )}
      <ul>
        {holds.map(({ hold, verdict }) => (
          <li key={hold}>
            {hold ?? t`an unnamed hold`}: <StateWord state={verdict} />
          </li>
        ))}
      </ul>
    </>
  )
}
