import { useSignal } from '@preact/signals'
import { duration } from '#analysis/reasons/figures.ts'
import { inThousands, t } from '#analysis/reasons/language.ts'
import type { PortState } from '#dashboard/api.ts'
import { post } from '../api-client.ts'
import { bench, mayOperate, system } from '../live/bench.ts'
import { Field } from '../parts/fields.tsx'
import { Term } from '../parts/term.tsx'
import { toastError } from '../parts/toast.tsx'

const dialectWords: Readonly<Record<string, string>> = {
  'line-protocol': t`line protocol`,
  csv: 'CSV',
  'key-value': t`key=value`,
  'json-lines': t`JSON lines`,
}

/** Each port with its dialect and reception quality; the user confirms a detected dialect. */
export function Ports() {
  const busy = useSignal(false)
  const ports = bench.value?.ports ?? []
  const confirm = async (name: string): Promise<void> => {
    busy.value = true
    try {
      const ports = await post<readonly PortState[]>('/api/ports/confirm', { name })
      if (bench.value) bench.value = { ...bench.value, ports }
    } catch (error) {
      toastError(error)
    } finally {
      busy.value = false
    }
  }
  if (ports.length === 0) {
    return (
      <p class="empty">
        No port is open. Start the program with a port, such as{' '}
        <code>stillhold serve --port /dev/ttyUSB0</code>; the command{' '}
        <code>stillhold record --port list</code> shows what is there.
      </p>
    )
  }
  return (
    <ul class="ports">
      {ports.map((port) => (
        <li key={port.name} class="stack tight">
          <div class="row spread">
            <h3>{port.name}</h3>
            <span class={port.open ? 'is-proven state-word' : 'is-failed state-word'}>
              {port.open ? t`● open` : t`◆ not open`}
            </span>
          </div>
          {port.fault && <p class="note is-failed">{port.fault}</p>}
          {port.trouble && <PortFix port={port} trouble={port.trouble} />}
          <dl class="facts">
            <dt>speaks</dt>
            <dd>
              {port.dialect === null ? (
                t`not recognized yet`
              ) : (
                <>
                  {dialectWords[port.dialect] ?? port.dialect}
                  {port.dialect === 'line-protocol' && <Term of="line protocol" />}
                  {port.confirmed ? t`, confirmed` : t`, as detected`}
                </>
              )}
              {port.dialect !== null && !port.confirmed && mayOperate.value && (
                <button
                  type="button"
                  class="in-line"
                  disabled={busy.value}
                  onClick={() => void confirm(port.name)}
                >
                  That is right
                </button>
              )}
            </dd>
            <dt>lines</dt>
            <dd>
              {inThousands(port.lines)}
              {port.rejected > 0 && t`, ${port.rejected} not understood and kept as comments`}
              {port.missing > 0 && t`, ${port.missing} missing from the logger’s own numbering`}
            </dd>
            <dt>last heard</dt>
            <dd>
              {port.silentS === null
                ? t`never`
                : port.silentS < 2
                  ? t`now`
                  : t`${duration(port.silentS)} ago`}
            </dd>
          </dl>
        </li>
      ))}
    </ul>
  )
}

const baudRates = [9600, 19_200, 38_400, 57_600, 115_200, 230_400] as const

/** The probable fault of a port, with a one-tap fix. */
function PortFix({ port, trouble }: { port: PortState; trouble: NonNullable<PortState['trouble']> }) {
  const fields = (system.value?.channels ?? []).map(({ from }) => from.field)
  const names = useSignal([...new Set(fields)].join(', '))
  const fix = async (setting: { readonly baudRate?: number; readonly columns?: readonly string[] }) => {
    try {
      const ports = await post<readonly PortState[]>('/api/ports/fix', { name: port.name, ...setting })
      if (bench.value) bench.value = { ...bench.value, ports }
    } catch (error) {
      toastError(error)
    }
  }
  return (
    <div class="note is-fail stack tight">
      <p>{trouble.message}</p>
      {mayOperate.value && trouble.code !== 'header' && (
        <fieldset class="row">
          <legend>Try another baud rate</legend>
          {baudRates
            .filter((rate) => rate !== trouble.baudRate)
            .map((rate) => (
              <button key={rate} type="button" onClick={() => void fix({ baudRate: rate })}>
                {rate}
              </button>
            ))}
        </fieldset>
      )}
      {mayOperate.value && trouble.code === 'header' && (
        <>
          <p>Restart the logger so that it prints its header, or name the {trouble.columns} columns here.</p>
          <Field label="Columns in their order" of={names} />
          <button
            type="button"
            class="main"
            onClick={() => void fix({ columns: names.value.split(/[\s,;]+/).filter((one) => one !== '') })}
          >
            Use these names
          </button>
        </>
      )}
    </div>
  )
}
