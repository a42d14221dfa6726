import type { ComponentChildren } from 'preact'
import { duration } from '#analysis/reasons/figures.ts'
import { t } from '#analysis/reasons/language.ts'
import { phrase } from '#analysis/reasons/phrase.ts'
import type { Alarm } from '#dashboard/api.ts'
import { bench, heardAtMs, link, mayOperate, tell, tickMs } from './live/bench.ts'
import { Button } from './parts/fields.tsx'
import { toastError } from './parts/toast.tsx'
import { address } from './route.ts'
import { displayUnits } from './settings.ts'

const icons = {
  /** An open drawer: files are missing from the archive. */
  drawer: <path d="M3.5 5h17v14h-17zM3.5 12h17M9 15.5h6M12 2v6m-2.5-2.5L12 8l2.5-2.5" />,
  stop: <path d="M8 2.5h8L21.5 8v8L16 21.5H8L2.5 16V8ZM12 7v6m0 3.6v.4" />,
  server: <path d="M4 5h16v6H4zM4 15h7M7 8h.5M15 14l6 6m0-6-6 6" />,
  stream: <path d="M3 12c2-5 4-5 6 0M12 6v12M16 6v12" />,
  logger: <path d="M3 12h5m8 0h5M8 8v8M16 8v8M11 6l2 12" />,
}

interface Kind {
  readonly look: string
  readonly icon: keyof typeof icons
  readonly title: ComponentChildren
  /** The remedy. */
  readonly todo?: string
  /** Introduces the server's message. */
  readonly why?: string
}

/** Titles of the alarms, most urgent first; the server's message gives the details. */
const kinds: Readonly<Record<Alarm['code'], Kind>> = {
  'pressure-fell': { look: 'of-stop', icon: 'stop', title: t`Pressure lost.` },
  'over-pressure': { look: 'of-stop', icon: 'stop', title: t`Stop. Over the maximum pressure.` },
  'ramp-too-fast': { look: 'of-stop', icon: 'stop', title: t`Stop. Pressure rises too fast.` },
  'logger-unplugged': { look: 'of-logger', icon: 'logger', title: t`Logger unplugged.` },
  'logger-silent': { look: 'of-logger', icon: 'logger', title: t`Logger silent.` },
  'logger-unread': { look: 'of-logger', icon: 'logger', title: t`Logger not understood.` },
  'disk-full': {
    look: 'of-stream',
    icon: 'stop',
    title: t`Disk full: nothing more is recorded. Vent now.`,
    todo: t`Vent what is under pressure: a hold that runs now proves nothing. Then free space on the bench computer.`,
    why: t`Why: `,
  },
  'clock-jump': { look: 'of-stream', icon: 'stop', title: t`Clock jumped.` },
  'not-sealed': {
    look: 'of-seal',
    icon: 'drawer',
    title: t`The last hold is not in the archive yet.`,
    todo: t`Leave the program running: its recording is kept and it tries again every few seconds. If the disk is full or read-only, fix that. Start no other hold while this band is shown.`,
    why: t`Why: `,
  },
  'set-aside': {
    look: 'of-seal is-final',
    icon: 'drawer',
    title: t`A hold was set aside: it has no record and proves nothing.`,
    todo: t`Its recording is kept in the data folder: look at it with stillhold analyze, then hold again.`,
    why: t`Why: `,
  },
}
const order = Object.keys(kinds)

function Band({ look, icon, title, children }: Kind & { readonly children: ComponentChildren }) {
  return (
    <div class={`band line ${look}`}>
      <svg viewBox="0 0 24 24" aria-hidden="true">
        {icons[icon]}
      </svg>
      <span>{title}</span>
      <span class="soft">{children}</span>
    </div>
  )
}

/** The trouble with the link to the bench. Its age changes each second on the screen, but is not announced each time. */
function LinkBand() {
  const age = duration(Math.round((tickMs.value - heardAtMs.value) / 1000))
  if (link.value === 'lost')
    return (
      <Band
        look="of-server"
        icon="server"
        title={
          <>
            Server lost<span aria-hidden="true"> {age} ago</span>. Nothing on this screen is live.
          </>
        }
      >
        The recording stops if the program stopped: look at the bench computer. This page tries again by
        itself.
      </Band>
    )
  if (link.value === 'stalled')
    return (
      <Band
        look="of-stream"
        icon="stream"
        title={
          <>
            Stream stalled<span aria-hidden="true">: no data for {age}</span>.
          </>
        }
      >
        The numbers are old. The recording may still be running; the network is slow or asleep.
      </Band>
    )
  return null
}

/** Everything that makes the numbers untrustworthy, most urgent first; each band differs in look and wording. */
export function Bands() {
  const state = bench.value
  const alarms = link.value === 'live' ? (state?.alarms ?? []) : []
  return (
    <section class="bands" aria-label="State of the bench">
      <div role="alert">
        <LinkBand />
        {[...alarms]
          .sort((a, b) => order.indexOf(a.code) - order.indexOf(b.code))
          .map((one) => {
            const kind = kinds[one.code]
            return (
              <Band key={one.code + one.message} {...kind}>
                {kind.todo} {kind.why}
                {ended(one)}{' '}
                {one.code === 'logger-unread' && (
                  <a href={address('setup', 'ports')}>Fix it in Setup, Ports</a>
                )}
              </Band>
            )
          })}
      </div>
      {state?.demo && (
        <div class="band line of-note small">
          <span>
            Demo bench: a simulated logger
            {state.speed !== 1 && t`, running ${state.speed} times faster than the clock`}. Nothing here was
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

/** The server's message with a full stop: messages shared with the terminal have none. */
const ended = (alarm: Alarm): string => {
  const text = phrase(alarm, displayUnits())
  return /[.!?]$/.test(text) ? text : `${text}.`
}

/** The demo runs automatically until the visitor takes over. */
function DemoOperator({ who }: { who: 'automatic' | 'you' }) {
  const other = who === 'automatic' ? 'you' : 'automatic'
  return (
    <Button
      class="quiet"
      onClick={() => {
        tell('/api/demo', { operator: other }).catch(toastError)
      }}
    >
      {who === 'automatic' ? t`Operate it myself` : t`Let it run by itself`}
    </Button>
  )
}
