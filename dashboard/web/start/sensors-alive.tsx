import type { Ledger } from '#analysis/hunt/ledger.ts'
import type { HoldSpec, System } from '#analysis/model/system.ts'
import { t } from '#analysis/reasons/language.ts'
import type { StartCheck } from '#dashboard/api.ts'
import { bench, isLive, tickMs, trueReading } from '../live/bench.ts'
import { sendMark } from '../marks/outbox.ts'
import { Button } from '../parts/fields.tsx'
import { StateWord } from '../parts/state-mark.tsx'
import { Term } from '../parts/term.tsx'
import { useAnswer } from '../parts/use-answer.ts'
import { displayOf, withUnit } from '../quantity.ts'
import { address } from '../route.ts'
import { withUnits } from '../settings.ts'
import { proofWords } from '../words.ts'

/** Checks of the sensors before a hold, polled each second; null before the first answer. */
export const useStartChecks = (hold: string): readonly StartCheck[] | null =>
  useAnswer<readonly StartCheck[]>(
    withUnits(`/api/hold/checks?hold=${encodeURIComponent(hold)}`),
    tickMs.value,
  ).value.value

/** The reasons why the hold cannot start, one sentence each; none: it can start. */
export function blocksOf(found: readonly StartCheck[] | null): readonly string[] {
  if (!isLive.value) return [t`The server does not answer: readings are old.`]
  if (found === null) return [t`Reading the sensors…`]
  return found.filter(({ state }) => state === 'blocks').map(({ message }) => message)
}

const shapes = { ready: '●', notice: '◐', blocks: '◆' } as const
const states = { ready: 'is-proven', notice: 'is-undecided', blocks: 'is-failed' } as const

/** Each sensor of the hold with its reading: alive, missing, or contradicting the system file. */
export function SensorsAlive({ found, system }: { found: readonly StartCheck[] | null; system: System }) {
  const unread = (bench.value?.ports ?? []).flatMap(({ trouble }) => (trouble ? [trouble.message] : []))
  return (
    <div class="stack tight">
      <ul class="sensor-list line">
        {(found ?? []).map(({ channel, state, message, place }) => {
          const { measures = '' } = system.channels.find((one) => one.id === channel) ?? {}
          const last = bench.value?.newest[channel]
          const old = !isLive.value || last?.quietS != null
          return (
            <li key={channel} class={`line ${states[state]}`}>
              <span class="sensor-word">{shapes[state]}</span>
              <strong>{channel}</strong>
              <span class={old ? 'old-reading' : ''}>
                {last === undefined ? '–' : withUnit(trueReading(channel, last.reading), displayOf(measures))}
              </span>
              {message && <span class="soft">{message}</span>}
              {place && (
                <Button
                  onClick={() =>
                    void sendMark(
                      { kind: 'place', id: place.gauge, fields: { section: place.section } },
                      t`${place.gauge} on ${place.section}`,
                    )
                  }
                >
                  {place.gauge} is on {place.section}
                </Button>
              )}
            </li>
          )
        })}
      </ul>
      {unread.map((message) => (
        <p key={message} class="note is-fail">
          {message} <a href={address('setup', 'ports')}>Fix it in Setup, Ports</a>
        </p>
      ))}
    </div>
  )
}

/** State of proof of the test rig: hose, caps and gauge leak too. */
export function RigProof({ spec }: { spec: HoldSpec }) {
  const ledger = useAnswer<Ledger>('/api/ledger')
  const fittings = ledger.value.value?.fittings.filter((one) => one.section === spec.rig) ?? []
  const open = fittings.filter((one) => one.proof.state !== 'proven')
  if (ledger.value.error) return <p class="note is-undecided">{ledger.value.error}</p>
  if (fittings.length > 0 && open.length === 0) {
    return (
      <p>
        <StateWord state="proven" word="Rig proven" /> by {fittings[0]?.proof.record}.
      </p>
    )
  }
  return (
    <div class="note is-undecided">
      <p>
        The rig <strong>{spec.rig}</strong>
        <Term of="rig" /> is not proven:{' '}
        {open.map((one) => `${one.id} ${proofWords[one.proof.state]}`).join(', ') ||
          t`no hold of it is on record`}
        .
      </p>
      <p>
        Hold the rig alone first, or the verdict rests on an unproven rig.{' '}
        <a href={address('system')}>See the ledger</a>
      </p>
    </div>
  )
}
