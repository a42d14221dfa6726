import { useSignal } from '@preact/signals'
import type { ChannelKind } from '#analysis/model/system.ts'
import { duration } from '#analysis/reasons/figures.ts'
import { t } from '#analysis/reasons/language.ts'
import type { SeenField } from '#dashboard/api.ts'
import { bench, system, tickMs, trueReading } from '../live/bench.ts'
import { readings } from '../live/traces.ts'
import { Button } from '../parts/fields.tsx'
import { Table } from '../parts/table-scroll.tsx'
import { useAnswer } from '../parts/use-answer.ts'
import { digits, displayOf, withUnit } from '../quantity.ts'
import { PartForm } from '../system/part-form.tsx'
import { FindChannel } from './find-channel.tsx'
import { sourceOf, where } from './who-moved.ts'

const measuresWords: Readonly<Record<ChannelKind, string>> = {
  'gauge-pressure': t`gauge pressure`,
  'absolute-pressure': t`absolute pressure`,
  temperature: t`temperature`,
  'barometric-pressure': t`barometric pressure`,
  'reference-pressure': t`reference pressure`,
  'level-sender': t`level sender`,
  'fuel-flow': t`fuel flow`,
}

/** The mapping from the logger's numbers to channels, with current readings. */
export function Channels() {
  const draft = useSignal<SeenField | null>(null)
  const fields = useAnswer<readonly SeenField[]>('/api/fields', tickMs.value).value.value ?? []
  const nowS = bench.value?.nowS ?? 0
  const free = fields.filter((one) => one.channel === null)
  return (
    <div class="stack">
      <FindChannel />
      <Table
        label="Channels and their readings"
        rows={system.value?.channels ?? []}
        columns={[
          [t`channel`, ({ id }) => id, 'head'],
          [
            t`measures`,
            ({ measures, section }) => (
              <>
                {measuresWords[measures]}
                {section && <span class="soft"> of {section}</span>}
              </>
            ),
          ],
          [t`from`, ({ from }) => <code>{where(from)}</code>],
          [
            t`as sent`,
            ({ id, unit }) => {
              const raw = fields.find((one) => one.channel === id)?.raw
              return (
                <>
                  {digits(raw, 3)} <span class="unit">{unit}</span>
                </>
              )
            },
            'number',
          ],
          [
            t`reads`,
            ({ id, measures }) => {
              const last = readings.value[id] ?? bench.value?.newest[id]
              const quietS = last ? nowS - last.timeS : 0
              return (
                <>
                  <strong>
                    {last ? withUnit(trueReading(id, last.reading), displayOf(measures)) : t`nothing yet`}
                  </strong>
                  {quietS > 10 && <span class="small soft"> {duration(quietS)} old</span>}
                </>
              )
            },
            'number',
          ],
          [
            t`calibration`,
            ({ calibration }) =>
              calibration ? (
                <>
                  {calibration.date}, {calibration.points.length} points
                  {calibration.due && <span class="soft"> due {calibration.due}</span>}
                </>
              ) : (
                <span class="soft">none</span>
              ),
          ],
        ]}
      />
      {free.length > 0 && (
        <>
          <h3>Numbers without a channel</h3>
          <ul class="stack tight">
            {free.map((one) => (
              <li key={where(one)} class="row spread">
                <span>
                  <code>{where(one)}</code> {digits(one.raw, 3)}
                </span>
                <Button onClick={() => (draft.value = one)}>Make it a channel</Button>
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
          draft={{ id: draft.value.field, ...sourceOf(draft.value) }}
          onDone={() => (draft.value = null)}
        />
      )}
    </div>
  )
}
