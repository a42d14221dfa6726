import { useSignal } from '@preact/signals'
import { useEffect, useRef } from 'preact/hooks'
import type { HoldSpec } from '#analysis/model/system.ts'
import { t } from '#analysis/reasons/language.ts'
import type { LiveState } from '#dashboard/api.ts'
import { bench, channels, mayOperate, tell } from '../live/bench.ts'
import { Button, entry, onSubmit, Segmented } from '../parts/fields.tsx'
import { useTask } from '../parts/use-answer.ts'
import { clock, numberOf } from '../quantity.ts'
import { play } from '../sound/player.ts'

/** Evenly spaced readings by eye, in the hold and in its settling: enough for a decision, and at least one a minute. */
const inHold = 12
const inSettle = 3
const mostS = 60
const keys = ['7', '8', '9', '4', '5', '6', '1', '2', '3', '.', '0', '⌫'] as const

/** Enters readings taken by eye: the time of the tap is the time of the reading. */
export function TypedPad({ spec }: { spec: HoldSpec }) {
  const own = channels.value.filter(
    ({ section, from }) =>
      // The measurement that init writes for a dial gauge; a logger sends its own numbers.
      from.measurement === 'typed' && (section === null || spec.sections.includes(section)),
  )
  const picked = useSignal(own[0]?.id ?? '')
  const text = useSignal('')
  const { busy, run } = useTask()
  const state = bench.value
  const channel = own.find(({ id }) => id === picked.value) ?? own[0]
  const gauge = own.find(({ measures }) => measures.endsWith('e-pressure')) ?? channel
  const dueInS = gauge === undefined ? null : secondsToNext(spec, state, gauge.id)
  useCall(dueInS !== null && dueInS <= 0)
  if (channel === undefined || !mayOperate.value) return null
  const value = numberOf(text.value)
  const isNumber = Number.isFinite(value)
  const name = channel.movable?.id ?? channel.id

  const enter = () =>
    run(async () => {
      if (!isNumber) return
      await tell('/api/typed', { readings: { [channel.id]: value } })
      text.value = ''
    })

  return (
    <form class="panel typed-pad stack tight" aria-label="Reading by eye" onSubmit={onSubmit(enter)}>
      {own.length > 1 && (
        <Segmented
          legend="What you read"
          quietLegend
          options={own.map(({ id, movable }) => [id, movable?.id ?? id] as const)}
          of={entry(channel.id, (id) => {
            picked.value = id
            text.value = ''
          })}
        />
      )}
      <label class="typed-value line">
        <span class="unseen">
          {name}, {channel.unit}
        </span>
        <input
          type="text"
          inputMode="decimal"
          autocomplete="off"
          maxLength={12}
          value={text.value}
          onInput={(event) => {
            text.value = event.currentTarget.value
          }}
        />
        <span aria-hidden="true">{channel.unit}</span>
      </label>
      <div class="typed-keys">
        {keys.map((key) => (
          <Button
            key={key}
            aria-label={key === '⌫' ? t`Delete` : key}
            onClick={() => {
              text.value = key === '⌫' ? text.value.slice(0, -1) : text.value + key
            }}
          >
            {key}
          </Button>
        ))}
      </div>
      <button type="submit" class="main large" aria-disabled={!isNumber || busy.value}>
        Enter {name}
        {isNumber && ` ${text.value} ${channel.unit}`}
      </button>
      <p class="small soft" role="status">
        {dueInS === null
          ? t`Tap the glass lightly, read to half a division, and enter it at once: the tap is its time.`
          : dueInS > 0
            ? t`Next reading in ${clock(dueInS)}.`
            : t`Read the gauge now.`}
      </p>
    </form>
  )
}

/** Seconds until the next reading is due; null when none is. */
function secondsToNext(spec: HoldSpec, state: LiveState | null, gauge: string): number | null {
  const hold = state?.hold
  const nowS = state?.nowS
  if (!hold || nowS == null || (hold.stage !== 'settle' && hold.stage !== 'hold')) return null
  const everyS = hold.stage === 'hold' ? Math.min(mostS, spec.holdS / (inHold - 1)) : spec.settleS / inSettle
  const lastS = state.newest[gauge]?.timeS ?? Number.NEGATIVE_INFINITY
  // Right after the pump-up its heat moves the needle, and a few readings cannot separate that from a leak.
  if (hold.stage === 'settle') return Math.max(lastS, hold.stageStartedS) + everyS - nowS
  return lastS < hold.stageStartedS - everyS / 2 ? 0 : lastS + everyS - nowS
}

/** Sounds a call once when a reading is due. */
function useCall(isDue: boolean): void {
  const was = useRef(false)
  useEffect(() => {
    if (isDue && !was.current) play('stage')
    was.current = isDue
  }, [isDue])
}
