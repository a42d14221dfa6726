import { useSignal } from '@preact/signals'
import { useEffect } from 'preact/hooks'
import { isoTime } from '#analysis/model/samples.ts'
import { t } from '#analysis/reasons/language.ts'
import type { ImportAnswer } from '#dashboard/api.ts'
import { post } from '../api-client.ts'
import { mayOperate, system } from '../live/bench.ts'
import { asOptions, Choice, entry, Field } from '../parts/fields.tsx'
import { StateWord } from '../parts/state-mark.tsx'
import { Table } from '../parts/table-scroll.tsx'
import { toast } from '../parts/toast.tsx'
import { moment } from '../quantity.ts'
import { go } from '../route.ts'
import { operatorName } from '../settings.ts'
import { verdictWords } from '../words.ts'

const time = (ns: string): string => moment(isoTime(ns))

async function base64Of(file: File): Promise<string> {
  const url = await new Promise<string>((done, fail) => {
    const reader = new FileReader()
    reader.onload = () => done(String(reader.result))
    reader.onerror = () => fail(new Error(t`${file.name} cannot be read by the browser.`))
    reader.readAsDataURL(file)
  })
  return url.slice(url.indexOf(',') + 1)
}

/** Imports a spreadsheet, another logger's file or a recording, after a preview of its interpretation. */
export function DropFile() {
  const file = useSignal<File | null>(null)
  const hold = useSignal('')
  const typed = useSignal(false)
  const answer = useSignal<ImportAnswer | null>(null)
  const error = useSignal<string | null>(null)

  const send = async (operator: string | null): Promise<ImportAnswer | null> => {
    const { name, lastModified } = file.value!
    error.value = null
    try {
      return await post<ImportAnswer>('/api/import', {
        ...{ name, operator, typed: typed.value, changedMs: lastModified },
        base64: await base64Of(file.value!),
        zone: Intl.DateTimeFormat().resolvedOptions().timeZone,
        hold: hold.value || null,
      })
    } catch (cause) {
      error.value = cause instanceof Error ? cause.message : String(cause)
      return null
    }
  }
  const look = async (next: File | undefined = file.value ?? undefined): Promise<void> => {
    if (!next) return
    file.value = next
    answer.value = null
    answer.value = await send(null)
  }
  const take = async (): Promise<void> => {
    const taken = await send(operatorName.value.trim())
    if (taken === null) return
    toast(
      t`${file.value!.name} is in the archive as imported; a person accepts it before the ledger counts it.`,
    )
    file.value = null
    go('records', taken.records[0])
  }
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
  if (!mayOperate.value) return null
  return (
    <details open={file.value !== null}>
      <summary>Import a file from another logger</summary>
      <div class="stack tight">
        <label class="field">
          <span>CSV, TSV or recording: drop it on this page, or choose it</span>
          <input type="file" onChange={(event) => void look(event.currentTarget.files?.[0])} />
        </label>
        <Choice
          label="Hold it belongs to"
          of={entry(hold.value, (id) => {
            hold.value = id
            void look()
          })}
          options={[['', t`as the file says`], ...asOptions((system.value?.holds ?? []).map(({ id }) => id))]}
        />
        <label class="check">
          <input
            type="checkbox"
            checked={typed.value}
            onChange={(event) => {
              typed.value = event.currentTarget.checked
              void look()
            }}
          />
          The readings were read by eye and typed
        </label>
        <div role="status">{error.value && <p class="note is-failed">{error.value}</p>}</div>
        {answer.value && <Understood answer={answer.value} name={file.value?.name ?? ''} />}
        {answer.value && (
          <div class="row">
            <Field label="Operator of the hold" of={operatorName} maxLength={80} />
            <button
              type="button"
              class="main"
              disabled={operatorName.value.trim() === ''}
              onClick={() => void take()}
            >
              Import it into the archive
            </button>
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
            {hold ?? t`an unnamed hold`}: <StateWord state={verdict} word={verdictWords[verdict].word} />
          </li>
        ))}
      </ul>
    </>
  )
}
