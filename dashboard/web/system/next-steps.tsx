import type { HuntResult, NextStep } from '#analysis/model/hunt.ts'
import { duration, percentOf } from '#analysis/reasons/figures.ts'
import { t } from '#analysis/reasons/language.ts'
import { mayOperate } from '../live/bench.ts'
import { openPartTools } from '../marks/part-dialog.tsx'
import { PanelHead } from '../parts/panel-head.tsx'
import { Table } from '../parts/table-scroll.tsx'
import { conditions, moment, twoFigures } from '../quantity.ts'
import { address } from '../route.ts'
import { LookTour } from './look-tour.tsx'

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
      {hunt.cautions.map((one) => (
        <p key={one} class="note is-undecided">
          {one}
        </p>
      ))}
      {first && (
        <ol class="next-steps">
          <Step step={first} isFirst />
        </ol>
      )}
      {mayOperate.value && <LookTour places={first?.places ?? []} fittings={first?.fittings ?? []} />}
      {likely.length > 0 && (
        <ul class="likely">
          {likely.map((one) => (
            <li key={one.id}>
              <span>
                <a href={address('system', one.id)}>{one.id}</a> {one.name}
              </span>
              <meter min={0} max={1} value={one.leaking} aria-label={t`${one.id} leaks`} />
              <span class="percent">{percentOf(one.leaking)}</span>
              {mayOperate.value && (
                <button type="button" onClick={() => openPartTools(one.id)}>
                  Mark work<span class="unseen"> on {one.id}</span>
                </button>
              )}
            </li>
          ))}
        </ul>
      )}
      <p class="small soft">
        From all the evidence in the archive
        {hunt.taken_at && t`, taken ${moment(hunt.taken_at)}`}.
      </p>
      <details>
        <summary>More steps and fittings</summary>
        {first && <p class="soft">{first.why}</p>}
        <ol class="next-steps">
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

function Step({ step, isFirst = false }: { step: NextStep; isFirst?: boolean }) {
  return (
    <li class={isFirst ? 'is-first' : ''}>
      <h3>{step.title}</h3>
      <p class="soft">
        {!isFirst && step.why} About {duration(step.minutes * 60)}.
        {step.shut.length > 0 && t` Shut ${step.shut.join(', ')}.`}
      </p>
      {step.kind === 'hold' && step.hold !== null && mayOperate.value && (
        <a class={`button ${isFirst ? 'main' : ''}`} href={address('hold', 'start', step.hold)}>
          Prepare this hold
        </a>
      )}
      {step.kind === 'work' && step.fittings.length === 1 && mayOperate.value && (
        <button type="button" class={isFirst ? 'main' : ''} onClick={() => openPartTools(step.fittings[0])}>
          Mark the work on {step.fittings[0]}
        </button>
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
