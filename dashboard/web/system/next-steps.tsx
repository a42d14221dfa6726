import { useSignal } from '@preact/signals'
import type { HuntResult } from '#analysis/hunt/hunt.ts'
import type { NextStep } from '#analysis/hunt/next-steps.ts'
import { duration, percentOf } from '#analysis/reasons/figures.ts'
import { t } from '#analysis/reasons/language.ts'
import { mayOperate } from '../live/bench.ts'
import { sendMark } from '../marks/outbox.ts'
import { openPartTools } from '../marks/part-tools.tsx'
import { Notes } from '../parts/facts.tsx'
import { Button } from '../parts/fields.tsx'
import { PanelHead } from '../parts/panel-head.tsx'
import { Table } from '../parts/table-scroll.tsx'
import { conditions, moment, twoFigures, zoneAt } from '../quantity.ts'
import { address } from '../route.ts'

/** Suspects below this are folded; a never-held fitting is listed only if holds or looks are evidence against it. */
const LIKELY = 0.05
const SUSPICIOUS = 0.3

/** The next step to find the leak, and the posterior of each fitting from all the evidence in the archive. */
export function NextSteps({ hunt }: { hunt: HuntResult }) {
  const known = hunt.fittings.filter((one) => one.leaking >= 0.005)
  const likely = known.filter((one) => one.leaking >= (one.held ? LIKELY : SUSPICIOUS)).slice(0, 4)
  const [first, ...others] = hunt.next.slice(0, 3)
  return (
    <section class="panel stack" aria-label="Hunt">
      <PanelHead title="Hunt" />
      <p>{hunt.message}</p>
      <Notes of={hunt.cautions} />
      {first && (
        <ol class="next-steps stack">
          <Step step={first} isFirst />
        </ol>
      )}
      {mayOperate.value && <LookTour places={first?.places ?? []} fittings={first?.fittings ?? []} />}
      <Likely of={likely} hunt={hunt} />
      <details>
        <summary>More steps and fittings</summary>
        {first && <p class="soft">{first.why}</p>}
        <ol class="next-steps stack">
          {others.map((step) => (
            <Step key={step.title} step={step} />
          ))}
        </ol>
        {known.length > 0 && <Suspects of={known.slice(0, 12)} />}
        {hunt.valves
          .filter((one) => one.passing >= 0.05)
          .map((one) => (
            <p key={one.id} class="soft">
              {one.id} ({one.name}) may be passing: {percentOf(one.passing)}.
            </p>
          ))}
        <p class="small soft">
          scc/min at {conditions(hunt.scc_reference)}. Counted: up to {hunt.largest_set} leaks at once.
        </p>
      </details>
    </section>
  )
}

/** The link to the start of a planned hold. */
export function Prepare({ hold, isFirst }: { readonly hold: string | null; readonly isFirst: boolean }) {
  if (hold === null || !mayOperate.value) return null
  return (
    <a class={`button ${isFirst ? 'main' : ''}`} href={address('hold', 'start', hold)}>
      Prepare this hold
    </a>
  )
}

/** The likeliest leaks, and the time of the evidence behind them. */
export function Likely({ of, hunt }: { of: HuntResult['fittings']; hunt: HuntResult }) {
  return (
    <>
      {of.length > 0 && (
        <ul class="likely stack tight">
          {of.map((one) => (
            <li key={one.id}>
              <span>
                <a href={address('system', one.id)}>{one.id}</a> {one.name}
              </span>
              <meter min={0} max={1} value={one.leaking} aria-label={t`${one.id} leaks`} />
              <span class="percent">{percentOf(one.leaking)}</span>
              {mayOperate.value && (
                <Button onClick={() => openPartTools(one.id)}>
                  Mark work<span class="unseen"> on {one.id}</span>
                </Button>
              )}
            </li>
          ))}
        </ul>
      )}
      <p class="small soft">
        From all the evidence in the archive
        {hunt.taken_at && t`, taken ${moment(hunt.taken_at)} ${zoneAt(hunt.taken_at)}`}.
      </p>
    </>
  )
}

function Step({ step, isFirst = false }: { step: NextStep; isFirst?: boolean }) {
  const only = step.fittings.length === 1 ? step.fittings[0] : undefined
  return (
    <li class={isFirst ? 'is-first' : ''}>
      <h3>{step.title}</h3>
      <p class="soft">
        {!isFirst && step.why} About {duration(step.minutes * 60)}.
        {step.shut.length > 0 && t` Shut ${step.shut.join(', ')}.`}
      </p>
      {step.kind === 'hold' && <Prepare hold={step.hold} isFirst={isFirst} />}
      {step.kind === 'work' && only && mayOperate.value && (
        <Button class={isFirst ? 'main' : ''} onClick={() => openPartTools(only)}>
          Mark the work on {only}
        </Button>
      )}
    </li>
  )
}

function Suspects({ of }: { of: HuntResult['fittings'] }) {
  return (
    <Table
      class="suspects stacks"
      rows={of}
      columns={[
        [
          t`fitting`,
          ({ id, name }) => (
            <>
              <a href={address('system', id)}>{id}</a> {name}
            </>
          ),
          'head',
        ],
        [
          t`leaks`,
          ({ id, leaking }) => (
            <>
              <meter min={0} max={1} value={leaking} aria-label={t`${id} leaks`} />
              {percentOf(leaking)}
            </>
          ),
          'number',
        ],
        [
          t`if so, scc/min`,
          ({ scc_per_min: rate }) => (rate ? t`${twoFigures(rate.low)} to ${twoFigures(rate.high)}` : '–'),
          'number',
        ],
      ]}
    />
  )
}

/**
 * The next looks, one place after the other with a tap each, until one bubbles or none is left. The order is fixed
 * during the tour, although each mark updates the posterior at once.
 */
function LookTour({ places, fittings }: Pick<NextStep, 'places' | 'fittings'>) {
  const tour = useSignal<readonly string[] | null>(null)
  const dry = useSignal(0)
  const found = useSignal<string | null>(null)
  const order = tour.value ?? places
  if (order.length === 0) return null
  const at = order[dry.value]
  const see = async (id: string, finding: 'bubbles' | 'dry'): Promise<void> => {
    tour.value = order
    await sendMark({ kind: 'look', id, fields: { finding } }, `${id} ${finding}`)
    if (finding === 'dry') dry.value++
    else found.value = id
  }
  const end = (): void => {
    tour.value = null
    dry.value = 0
    found.value = null
  }
  return (
    <section class="row" aria-label="Looks">
      {found.value !== null ? (
        <>
          <span>
            <strong>This one: {found.value}.</strong> Vent before you work on it.
          </span>
          <Button class="main" onClick={() => openPartTools(found.value!)}>
            Mark the work
          </Button>
        </>
      ) : at === undefined ? (
        <strong>None of these: {order.join(', ')}.</strong>
      ) : (
        <>
          <span>
            {fittings.includes(at) ? at : t`hoses, seams and walls of ${at}`}, {dry.value + 1} of{' '}
            {order.length}:
          </span>
          <Button onClick={() => see(at, 'bubbles')}>Bubbles</Button>
          <Button onClick={() => see(at, 'dry')}>Dry</Button>
        </>
      )}
      {tour.value !== null && <Button onClick={end}>End the looks</Button>}
    </section>
  )
}
