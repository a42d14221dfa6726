import { duration } from '#analysis/reasons/figures.ts'
import { phrase } from '#analysis/reasons/phrase.ts'
import type { Alarm, LiveState } from '#dashboard/api.ts'
import { post } from './api-client.ts'
import { bench, heardAtMs, link, mayOperate, take, tickMs } from './live/bench.ts'
import { toastError } from './parts/toast.tsx'
import { address } from './route.ts'
import { displayUnits } from './settings.ts'

const icons = {
  stop: <path d="M8 2.5h8L21.5 8v8L16 21.5H8L2.5 16V8ZM12 7v6m0 3.6v.4" />,
  server: <path d="M4 5h16v6H4zM4 15h7M7 8h.5M15 14l6 6m0-6-6 6" />,
  stream: <path d="M3 12c2-5 4-5 6 0M12 6v12M16 6v12" />,
  logger: <path d="M3 12h5m8 0h5M8 8v8M16 8v8M11 6l2 12" />,
}

/** A drawer that stays open: what belongs into the archive is not in it. */
const drawer = <path d="M3.5 5h17v14h-17zM3.5 12h17M9 15.5h6M12 2v6m-2.5-2.5L12 8l2.5-2.5" />

/** What an alarm is called and what to do about it; the server's message says what happened. */
const others = {
  'disk-full': {
    band: 'of-stream',
    icon: icons.stop,
    title: 'Disk full: nothing more is recorded. Vent now.',
    todo: 'Vent what is under pressure: a hold that runs now proves nothing. Then make room on the bench computer.',
    why: 'Why: ',
  },
  'clock-jump': {
    band: 'of-stream',
    icon: icons.stop,
    title: 'Clock jumped.',
    todo: '',
    why: '',
  },
  'not-sealed': {
    band: 'of-seal',
    icon: drawer,
    title: 'The last hold is not in the archive yet.',
    todo: 'Leave the program running: its recording is kept and it tries again every few seconds. If the disk is full or read-only, mend that. Start no other hold before this band is gone.',
    why: 'Why: ',
  },
  'set-aside': {
    band: 'of-seal is-final',
    icon: drawer,
    title: 'A hold was set aside: it has no record and proves nothing.',
    todo: 'Its recording is kept in the data folder: look at it with stillhold analyze, then hold again.',
    why: 'Why: ',
  },
} as const
/** What calls to stop, in the largest letters. */
const stopTitles = {
  'pressure-fell': 'Pressure lost.',
  'over-pressure': 'Stop. Over the maximum pressure.',
  'ramp-too-fast': 'Stop. Pressure rises too fast.',
} as const
const loggerTitles = {
  'logger-unplugged': 'Logger unplugged.',
  'logger-silent': 'Logger silent.',
  'logger-unread': 'Logger not understood.',
} as const
const isOther = (code: string): code is keyof typeof others => code in others

const age = (): string => duration(Math.round((tickMs.value - heardAtMs.value) / 1000))

/** What stands between the user and trustworthy numbers, most urgent first; each looks and reads differently. */
export function Bands() {
  const state = bench.value
  const alarms = state?.alarms ?? []
  const stops = alarms.filter(({ code }) => code in stopTitles)
  const silent = alarms.filter(({ code }) => code in loggerTitles)
  const rest = alarms.flatMap((alarm) => (isOther(alarm.code) ? [{ alarm, ...others[alarm.code] }] : []))
  const heard = link.value === 'live'
  return (
    <section class="bands" aria-label="State of the bench">
      <div role="alert">
        {heard &&
          stops.map((one) => (
            <div key={one.code + one.message} class="band of-stop">
              <svg viewBox="0 0 24 24" aria-hidden="true">
                {icons.stop}
              </svg>
              <span>{stopTitles[one.code as keyof typeof stopTitles]}</span>
              <span class="soft">{ended(one)}</span>
            </div>
          ))}
        {link.value === 'lost' && (
          <div class="band of-server">
            <svg viewBox="0 0 24 24" aria-hidden="true">
              {icons.server}
            </svg>
            {/* The age grows each second: it is seen, and not called out again and again. */}
            <span>
              Server lost<span aria-hidden="true"> {age()} ago</span>. Nothing on this screen is live.
            </span>
            <span class="soft">
              The recording stops if the program stopped: look at the bench computer. This page tries again by
              itself.
            </span>
          </div>
        )}
        {link.value === 'stalled' && (
          <div class="band of-stream">
            <svg viewBox="0 0 24 24" aria-hidden="true">
              {icons.stream}
            </svg>
            <span>
              Stream stalled<span aria-hidden="true">: no word for {age()}</span>.
            </span>
            <span class="soft">
              The numbers are old. The recording may well go on; the network between is slow or asleep.
            </span>
          </div>
        )}
        {heard &&
          silent.map((one) => (
            <div key={one.code + one.message} class="band of-logger">
              <svg viewBox="0 0 24 24" aria-hidden="true">
                {icons.logger}
              </svg>
              <span>{loggerTitles[one.code as keyof typeof loggerTitles]}</span>
              <span class="soft">
                {ended(one)}{' '}
                {one.code === 'logger-unread' && (
                  <a href={address('setup', 'ports')}>Fix it in Setup, Ports</a>
                )}
              </span>
            </div>
          ))}
        {heard &&
          rest.map((one) => (
            <div key={one.alarm.code + one.alarm.message} class={`band ${one.band}`}>
              <svg viewBox="0 0 24 24" aria-hidden="true">
                {one.icon}
              </svg>
              <span>{one.title}</span>
              <span class="soft">
                {one.todo} {one.why}
                {ended(one.alarm)}
              </span>
            </div>
          ))}
      </div>
      {state?.demo && (
        <div class="band of-note small">
          <span>
            Demo bench: a simulated logger
            {state.speed !== 1 && `, running ${state.speed} times faster than the clock`}. Nothing here was
            measured.
          </span>
          {state.demoOperator && (
            <>
              <span>{state.demoOperator.says}</span>
              {mayOperate.value && <DemoOperator who={state.demoOperator.who} />}
            </>
          )}
        </div>
      )}
    </section>
  )
}

/** What the server says ends without a stop where it goes to a terminal too. */
const ended = (alarm: Alarm): string => {
  const text = phrase(alarm, displayUnits())
  return /[.!?]$/.test(text) ? text : `${text}.`
}

/** The demo runs itself until the visitor takes over. */
function DemoOperator({ who }: { who: 'automatic' | 'you' }) {
  const other = who === 'automatic' ? 'you' : 'automatic'
  return (
    <button
      type="button"
      class="quiet"
      onClick={() => {
        post<LiveState>('/api/demo', { operator: other }).then(take, toastError)
      }}
    >
      {who === 'automatic' ? 'Operate it myself' : 'Let it run by itself'}
    </button>
  )
}
