import { useSignal } from '@preact/signals'
import { useEffect } from 'preact/hooks'
import type { ChannelKind } from '#analysis/model/system.ts'
import { duration } from '#analysis/reasons/figures.ts'
import { t } from '#analysis/reasons/language.ts'
import type { SeenField } from '#dashboard/api.ts'
import { get } from '../api-client.ts'
import { bench, system, trueReading } from '../live/bench.ts'
import { readings } from '../live/traces.ts'
import { TableScroll } from '../parts/table-scroll.tsx'
import { digits, displayOf, withUnit } from '../quantity.ts'
import { type FormValues, PartForm } from '../system/part-form.tsx'
import { FindChannel } from './find-channel.tsx'
import { where } from './who-moved.ts'

const measuresWords: Readonly<Record<ChannelKind, string>> = {
  'gauge-pressure': t`gauge pressure`,
  'absolute-pressure': t`absolute pressure`,
  temperature: t`temperature`,
  'barometric-pressure': t`barometric pressure`,
  'reference-pressure': t`reference pressure`,
  'level-sender': t`level sender`,
  'fuel-flow': t`fuel flow`,
}

/** A draft channel for an unassigned number, by the paths of its keys. */
const draftFor = ({ measurement, field, tags }: SeenField): FormValues => ({
  id: field,
  'from.measurement': measurement,
  'from.field': field,
  ...(Object.keys(tags).length > 0 && { 'from.tags': tags }),
})

/** The mapping from the logger's numbers to channels, with current readings. */
export function Channels() {
  const draft = useSignal<SeenField | null>(null)
  const fields = useSignal<readonly SeenField[] | null>(null)
  useEffect(() => {
    let going = true
    const ask = (): void => {
      get<readonly SeenField[]>('/api/fields').then(
        (answer) => {
          if (going) fields.value = answer
        },
        () => undefined,
      )
    }
    ask()
    const timer = setInterval(ask, 2000)
    return () => {
      going = false
      clearInterval(timer)
    }
  }, [])
  const nowS = bench.value?.nowS ?? 0
  const free = (fields.value ?? []).filter((one) => one.channel === null)
  return (
    <div class="stack">
      <FindChannel />
      <TableScroll label="Channels and their readings">
        <table class="stacks">
          <thead>
            <tr>
              <th scope="col">channel</th>
              <th scope="col">measures</th>
              <th scope="col">from</th>
              <th scope="col" class="number">
                as sent
              </th>
              <th scope="col" class="number">
                reads
              </th>
              <th scope="col">calibration</th>
            </tr>
          </thead>
          <tbody>
            {(system.value?.channels ?? []).map((channel) => {
              const last = readings.value[channel.id] ?? bench.value?.newest[channel.id]
              const raw = fields.value?.find((one) => one.channel === channel.id)
              const quietS = last ? nowS - last.timeS : null
              return (
                <tr key={channel.id}>
                  <th scope="row">{channel.id}</th>
                  <td data-label="measures">
                    {measuresWords[channel.measures]}
                    {channel.section && <span class="soft"> of {channel.section}</span>}
                  </td>
                  <td data-label="from">
                    <code>{where(channel.from)}</code>
                  </td>
                  <td class="number" data-label="as sent">
                    {raw ? digits(raw.raw, 3) : '–'} <span class="unit">{channel.unit}</span>
                  </td>
                  <td class="number strong" data-label="reads">
                    {last
                      ? withUnit(trueReading(channel.id, last.reading), displayOf(channel.measures))
                      : t`nothing yet`}
                    {quietS !== null && quietS > 10 && (
                      <span class="small soft"> {duration(quietS)} old</span>
                    )}
                  </td>
                  <td data-label="calibration">
                    {channel.calibration ? (
                      <>
                        {channel.calibration.date}, {channel.calibration.points.length} points
                        {channel.calibration.due && <span class="soft"> due {channel.calibration.due}</span>}
                      </>
                    ) : (
                      <span class="soft">none</span>
                    )}
                  </td>
                </tr>
              )
            })}
          </tbody>
        </table>
      </TableScroll>
      {free.length > 0 && (
        <>
          <h3>Numbers without a channel</h3>
          <ul class="free-fields">
            {free.map((one) => (
              <li key={where(one)} class="row spread">
                <span>
                  <code>{where(one)}</code> {digits(one.raw, 3)}
                </span>
                <button type="button" onClick={() => (draft.value = one)}>
                  Make it a channel
                </button>
              </li>
            ))}
          </ul>
        </>
      )}
      {draft.value && (
        <PartForm
          key={where(draft.value)}
          list="channels"
          id={null}
          draft={draftFor(draft.value)}
          onDone={() => (draft.value = null)}
        />
      )}
    </div>
  )
}
