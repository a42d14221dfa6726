import { useSignal } from '@preact/signals'
import { duration } from '#analysis/reasons/figures.ts'
import { inThousands, t } from '#analysis/reasons/language.ts'
import type { PortState } from '#dashboard/api.ts'
import { post } from '../api-client.ts'
import { bench, channels, mayOperate } from '../live/bench.ts'
import { Facts } from '../parts/facts.tsx'
import { Button, Field } from '../parts/fields.tsx'
import { Term } from '../parts/term.tsx'
import { useTask } from '../parts/use-answer.ts'

const dialectWords: Readonly<Record<string, string>> = {
  'line-protocol': t`line protocol`,
  csv: 'CSV',
  'key-value': t`key=value`,
  'json-lines': t`JSON lines`,
}

/** Changes a port, and shows all ports as they are then. */
function usePorts() {
  const { busy, run } = useTask()
  const change = (what: 'confirm' | 'fix', order: object) =>
    run(async () => {
      const ports = await post<readonly PortState[]>(`/api/ports/${what}`, order)
      if (bench.value) bench.value = { ...bench.value, ports }
    })
  return { busy, change }
}

/** Each port with its dialect and reception quality; the user confirms a detected dialect. */
export function Ports() {
  const { busy, change } = usePorts()
  const ports = bench.value?.ports ?? []
  if (ports.length === 0) {
    return (
      <p class="soft">
        No port is open. Start the program with a port, such as{' '}
        <code>stillhold serve --port /dev/ttyUSB0</code>; the command{' '}
        <code>stillhold record --port list</code> shows what is there.
      </p>
    )
  }
  const dialectOf = ({ name, confirmed }: PortState, dialect: string) => (
    <>
      {dialectWords[dialect] ?? dialect}
      {dialect === 'line-protocol' && <Term of="line protocol" />}
      {confirmed ? t`, confirmed` : t`, as detected`}
      {!confirmed && mayOperate.value && (
        <Button class="in-line" disabled={busy.value} onClick={() => change('confirm', { name })}>
          That is right
        </Button>
      )}
    </>
  )
  return (
    <ul class="ports stack">
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
          <Facts
            of={[
              [t`speaks`, port.dialect === null ? t`not recognized yet` : dialectOf(port, port.dialect)],
              [
                t`lines`,
                <>
                  {inThousands(port.lines)}
                  {port.rejected > 0 && t`, ${port.rejected} not understood and kept as comments`}
                  {port.missing > 0 && t`, ${port.missing} missing from the logger’s own numbering`}
                </>,
              ],
              [t`last heard`, heardWords(port.silentS)],
            ]}
          />
        </li>
      ))}
    </ul>
  )
}

const heardWords = (silentS: number | null): string =>
  silentS === null ? t`never` : silentS < 2 ? t`now` : t`${duration(silentS)} ago`

const baudRates = [9600, 19_200, 38_400, 57_600, 115_200, 230_400] as const

/** The probable fault of a port, with a one-tap fix. */
function PortFix({ port, trouble }: { port: PortState; trouble: NonNullable<PortState['trouble']> }) {
  const fields = channels.value.map(({ from }) => from.field)
  const names = useSignal([...new Set(fields)].join(', '))
  const { change } = usePorts()
  const fix = (setting: { readonly baudRate?: number; readonly columns?: readonly string[] }) =>
    change('fix', { name: port.name, ...setting })
  return (
    <div class="note is-fail stack tight">
      <p>{trouble.message}</p>
      {mayOperate.value && trouble.code !== 'header' && (
        <fieldset class="row">
          <legend>Try another baud rate</legend>
          {baudRates
            .filter((rate) => rate !== trouble.baudRate)
            .map((rate) => (
              <Button key={rate} onClick={() => fix({ baudRate: rate })}>
                {rate}
              </Button>
            ))}
        </fieldset>
      )}
      {mayOperate.value && trouble.code === 'header' && (
        <>
          <p>Restart the logger so that it prints its header, or name the {trouble.columns} columns here.</p>
          <Field label="Columns in their order" of={names} />
          <Button
            class="main"
            onClick={() => fix({ columns: names.value.split(/[\s,;]+/).filter((one) => one !== '') })}
          >
            Use these names
          </Button>
        </>
      )}
    </div>
  )
}
