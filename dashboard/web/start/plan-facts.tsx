import { useSignal } from '@preact/signals'
import { useEffect } from 'preact/hooks'
import type { Plan, PlanAdvice } from '#analysis/model/plan.ts'
import { duration } from '#analysis/reasons/figures.ts'
import { post } from '../api-client.ts'
import { returns } from '../live/bench.ts'
import { isSuctionHold } from '../live/is-suction-hold.ts'
import { StateWord } from '../parts/state-mark.tsx'
import { digits, pressureDifference } from '../quantity.ts'
import { temperatureUnit, withUnits } from '../settings.ts'

/** The plan tries none beyond: `largestDriftTriedKPerH` of analysis/plan/plan-hold.ts. */
const MOST_DRIFT_K_PER_H = 8

/** A difference of temperature an hour: the offset of the scale has no part in it. */
function drift(kelvinPerH: number): string {
  const [value, unit] = temperatureUnit.value === 'degF' ? [kelvinPerH * 1.8, '°F'] : [kelvinPerH, '°C']
  if (kelvinPerH >= MOST_DRIFT_K_PER_H)
    return `even while the temperature drifts by ${about(value)} ${unit} an hour`
  return `while the temperature drifts by no more than ${about(value)} ${unit} an hour`
}

/** Two figures of a number that is only an estimate. */
const about = (value: number): string => digits(value, value >= 10 ? 0 : value >= 1 ? 1 : 2)

/** Said already where the hold begins: in the cautions and on the state sheet. */
const everyHold = [
  'limits',
  'over-limit',
  'limit-unknown',
  'relief-valve',
  'water-leg',
  'no-compressor',
  'vacuum-breaker',
  'shut-valves',
  'no-ignition',
  'eye-protection',
  'never-tighten',
  'remove-plugs',
  'maker-first',
]
const isOwn = (one: PlanAdvice): boolean => !everyHold.includes(one.topic)

function Advice({ of, caution }: { of: readonly PlanAdvice[]; caution: boolean }) {
  if (of.length === 0) return null
  return (
    <ul class="plan-sentences">
      {of.map((one) => (
        <li key={one.topic + one.message} class={caution ? 'note is-undecided' : ''}>
          {one.message} {one.source && <span class="soft small">({one.source})</span>}
        </li>
      ))}
    </ul>
  )
}

/** What the hold can decide, as one word and one sentence; then the figures it rests on. */
function PlanFacts({ plan }: { plan: Plan }) {
  const rate =
    plan.smallest_scc_per_min !== null
      ? `, ${about(plan.smallest_scc_per_min)} scc/min`
      : plan.smallest_mL_per_min !== null
        ? `, ${about(plan.smallest_mL_per_min)} mL/min`
        : ''
  const settlesShort = plan.needed_settle_seconds > plan.settle_seconds
  return (
    <div class="plan">
      {!plan.decides && <Advice of={plan.cautions.filter(isOwn)} caution />}
      <details>
        <summary>
          <span class="plan-answer">
            <StateWord
              state={plan.decides ? 'pass' : 'undecided'}
              word={
                plan.decides ? 'Can decide' : plan.needed_seconds === null ? 'Cannot decide' : 'Too short'
              }
            />
            <span>{plan.message}</span>
          </span>
        </summary>
        {plan.decides && <Advice of={plan.cautions.filter(isOwn)} caution />}
        <dl class="facts">
          <dt>{isSuctionHold(plan.hold) ? 'may rise' : 'may lose'}</dt>
          <dd>
            {pressureDifference(plan.allowed_drop_Pa)} in {duration(plan.hold_seconds)}
          </dd>
          <dt>smallest leak that shows</dt>
          <dd>
            {pressureDifference(plan.smallest_drop_Pa)} in {duration(plan.hold_seconds)}
            {rate}
          </dd>
          <dt>shortest hold that decides</dt>
          <dd>
            {plan.needed_seconds === null ? 'none of a reasonable length' : duration(plan.needed_seconds)}
          </dd>
          <dt>settle</dt>
          <dd>
            {duration(plan.settle_seconds)}
            {settlesShort &&
              `, better ${duration(plan.needed_settle_seconds)}: the heat of pumping fades slowly`}
          </dd>
          {plan.decides && (
            <>
              <dt>steady enough</dt>
              <dd>{drift(plan.largest_drift_K_per_h)}</dd>
            </>
          )}
          <dt>what blurs it</dt>
          <dd>
            gauge {pressureDifference(plan.noise_drop_Pa)}, temperature{' '}
            {pressureDifference(plan.temperature_drop_Pa)}, weather {pressureDifference(plan.weather_drop_Pa)}
          </dd>
        </dl>
        <Advice of={plan.waits} caution={false} />
        <Advice of={plan.cautions.filter((one) => !isOwn(one))} caution={false} />
      </details>
    </div>
  )
}

/** What this hold can decide with these sensors, before anything is pumped up. */
export function PlanView({ hold }: { hold: string }) {
  const plan = useSignal<Plan | null>(null)
  const error = useSignal<string | null>(null)
  const path = withUnits('/api/plan')
  useEffect(() => {
    let wanted = true
    plan.value = null
    error.value = null
    post<Plan>(path, { hold }).then(
      (answer) => {
        if (wanted) plan.value = answer
      },
      (reason: Error) => {
        if (wanted) error.value = reason.message
      },
    )
    return () => {
      wanted = false
    }
  }, [hold, path, returns.value])
  if (error.value) return <p class="note is-undecided">{error.value}</p>
  if (plan.value === null) return <p class="soft">Working out what this hold can decide…</p>
  return <PlanFacts plan={plan.value} />
}
