import { useEffect, useRef } from 'preact/hooks'
import { benchWords } from '#analysis/reasons/bench-words.ts'
import { t } from '#analysis/reasons/language.ts'
import type { LiveState } from '#dashboard/api.ts'
import type { OpenRecord } from '#dashboard/archive/record.ts'
import { HoldRunning } from '../hold/hold-running.tsx'
import { PressureFigure } from '../hold/pressure-figure.tsx'
import { describedIn, running } from '../hold/running.ts'
import { bench, mayOperate, system } from '../live/bench.ts'
import { MarkPad } from '../marks/mark-pad.tsx'
import { BudgetBar, Reasons } from '../parts/facts.tsx'
import { StateMark } from '../parts/state-mark.tsx'
import { useAnswer } from '../parts/use-answer.ts'
import { VerdictFigures } from '../parts/verdict-figures.tsx'
import { address, type PageProps } from '../route.ts'
import { GuidedStart } from '../start/guided-start.tsx'
import { verdictWords } from '../words.ts'

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
    <div class="idle-view stack">
      <h1 class={starting ? 'unseen-on-phone' : 'unseen'}>{starting ? t`Start a hold` : t`Hold`}</h1>
      {state.sealing && <p class="note">The hold has ended: its record is being analyzed and sealed.</p>}
      {!starting && state.last && <LastVerdict last={state.last} older={unsealed} />}
      {starting ? (
        <div class="start-view stack">
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
        <section class="panel row spread start-invite">
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
  bench.value === null ? <p class="soft">Waiting for the bench…</p> : <HoldView {...props} />

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

interface Props {
  readonly last: NonNullable<LiveState['last']>
  /** A later hold has ended but is not sealed: this verdict must not be mistaken for its verdict. */
  readonly older: boolean
}

/** The verdict of the hold that was sealed last, readable from the far end of the hangar. */
function LastVerdict({ last, older }: Props) {
  const { result, record } = last
  const opened = useAnswer<OpenRecord>(`/api/records/${encodeURIComponent(record)}`).value.value
  const { word, meaning } = verdictWords[result.verdict]
  return (
    <section
      class={`panel last-verdict stack ${older ? 'is-older' : `is-${result.verdict}`}`}
      aria-label="Last verdict"
    >
      <p class="verdict-word">
        <StateMark state={result.verdict} /> {word}
      </p>
      <div class="stack tight">
        {older && (
          <p class="note is-undecided">This is the hold before the last one, which is not decided yet.</p>
        )}
        <p class="verdict-of">
          <strong>{result.hold}</strong> <span class="soft">{meaning}</span>
        </p>
        <Reasons of={result.reasons} />
        {!older && <p class="soft">Bench: {benchWords(result)}.</p>}
        <VerdictFigures result={result} />
        <BudgetBar of={opened?.budget} />
        <p class="row">
          <a class="button" href={address('records', record)}>
            Open the record
          </a>
          <a class="button" href={`/api/records/${encodeURIComponent(record)}/report.pdf`}>
            Test report
          </a>
          {result.verdict !== 'pass' && mayOperate.value && (
            <a class="button main" href={address('hold', 'start', result.hold, record)}>
              Retest
            </a>
          )}
          {result.verdict === 'fail' && (
            <a class="button" href={address('system')}>
              Hunt the leak
            </a>
          )}
        </p>
      </div>
    </section>
  )
}
