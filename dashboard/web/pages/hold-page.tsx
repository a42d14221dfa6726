import { useEffect, useRef } from 'preact/hooks'
import { t } from '#analysis/reasons/language.ts'
import { HoldRunning } from '../hold/hold-running.tsx'
import { LastVerdict } from '../hold/last-verdict.tsx'
import { PressureFigure } from '../hold/pressure-figure.tsx'
import { describedIn, running } from '../hold/running.ts'
import { bench, mayOperate, system } from '../live/bench.ts'
import { MarkPad } from '../marks/mark-pad.tsx'
import { address, type PageProps } from '../route.ts'
import { GuidedStart } from '../start/guided-start.tsx'

/** The gauges shown while no hold runs: those of the hold in preparation, or all. */
function Readings({ hold }: { hold: string | null }) {
  const of = describedIn(hold)
  const channels = [...of.pressures.map(({ channel }) => channel), ...of.temperatures, of.barometer]
  if (system.value !== null && channels.every((one) => bench.value?.newest[one ?? ''] === undefined)) {
    return (
      <p class="note">
        No gauge has sent data yet. <a href={address('setup', 'ports')}>See what the ports receive</a>
      </p>
    )
  }
  return <PressureFigure of={of} />
}

function Idle({ rest }: PageProps) {
  const state = bench.value!
  const starting = rest[0] === 'start'
  const hold = starting ? (rest[1] ?? null) : null
  const isFull = state.alarms.some((one) => one.code === 'disk-full')
  const unsealed =
    state.sealing === true ||
    state.alarms.some((one) => one.code === 'not-sealed' || one.code === 'set-aside')
  return (
    <div class="idle-view">
      <h1 class={starting ? '' : 'unseen'}>{starting ? t`Start a hold` : t`Hold`}</h1>
      {state.sealing && <p class="note">The hold has ended: its record is being analyzed and sealed.</p>}
      {!starting && state.last && <LastVerdict last={state.last} older={unsealed} />}
      {starting ? (
        <div class="start-view">
          <Readings hold={hold} />
          <GuidedStart hold={hold} retests={rest[2] ?? null} />
        </div>
      ) : (
        <Readings hold={null} />
      )}
      {starting ? null : isFull ? (
        <p class="note is-fail">
          No hold can start: nothing is recorded. Make room on the bench computer first.
        </p>
      ) : mayOperate.value ? (
        <section class="panel start-invite">
          <p>
            {state.last ? t`No hold is running.` : t`No hold has run in this session.`}{' '}
            <span class="soft">
              The next one begins with what to pressurize, what to shut and whether these sensors can decide
              it.
            </span>
          </p>
          <a class="button main large" href={address('hold', 'start')}>
            Start a hold
          </a>
        </section>
      ) : (
        <p class="soft">No hold is running. This page shows it as soon as one begins.</p>
      )}
      {!starting && state.last && mayOperate.value && <MarkPad sections={state.last.result.sections} />}
    </div>
  )
}

export const HoldPage = (props: PageProps) =>
  bench.value === null ? <p class="loading">Waiting for the bench…</p> : <HoldView {...props} />

function HoldView({ rest }: PageProps) {
  const run = running.value
  const view = run !== null ? 'running' : rest[0] === 'start' ? 'start' : 'idle'
  const before = useRef(view)
  useEffect(() => {
    // A hold begins or ends: scroll to the top of the new view and move the focus there.
    if (before.current !== view) {
      scrollTo(0, 0)
      document.getElementById('content')?.focus({ preventScroll: true })
    }
    before.current = view
  }, [view])
  return run === null ? <Idle rest={rest} /> : <HoldRunning run={run} />
}
