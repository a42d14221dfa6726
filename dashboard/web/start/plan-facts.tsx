import type { Plan } from '#analysis/plan/plan-hold.ts'
import { duration } from '#analysis/reasons/figures.ts'
import type { PlanAdvice } from '#analysis/reasons/hold-cautions.ts'
import { t } from '#analysis/reasons/language.ts'
import { isSuctionHold } from '../live/bench.ts'
import { BudgetBar, Facts, Pending } from '../parts/facts.tsx'
import { StateWord } from '../parts/state-mark.tsx'
import { usePosted } from '../parts/use-answer.ts'
import { digits, pressureDifference } from '../quantity.ts'
import { temperatureUnit, withUnits } from '../settings.ts'

/** Largest drift that the plan tries: `largestDriftTriedKPerH` of analysis/plan/plan-hold.ts. */
const MOST_DRIFT_K_PER_H = 8

/** A temperature difference an hour: the offset of the scale cancels. */
function drift(kelvinPerH: number): string {
  const [value, unit] = temperatureUnit.value === 'degF' ? [kelvinPerH * 1.8, '°F'] : [kelvinPerH, '°C']
  if (kelvinPerH >= MOST_DRIFT_K_PER_H)
    return t`even while the temperature drifts by ${about(value)} ${unit} an hour`
  return t`while the temperature drifts by no more than ${about(value)} ${unit} an hour`
}

/** About two significant figures, since the number is an estimate. */
const about = (value: number): string => digits(value, value >= 10 ? 0 : value >= 1 ? 1 : 2)

/** Already on the page: in the cautions and on the state sheet. */
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
    <ul class="stack tight">
      {of.map((one) => (
        <li key={one.topic + one.message} class={caution ? 'note is-undecided' : ''}>
          {one.message} {one.source && <span class="soft small">({one.source})</span>}
        </li>
      ))}
    </ul>
  )
}

/** The plan's conclusion as one word and one sentence, then its figures. */
function PlanFacts({ plan }: { plan: Plan }) {
  const { smallest_scc_per_min: scc, smallest_mL_per_min: mL } = plan
  const rate = scc !== null ? t`, ${about(scc)} scc/min` : mL !== null ? `, ${about(mL)} mL/min` : ''
  const inTime = t`in ${duration(plan.hold_seconds)}`
  const better = t`, better ${duration(plan.needed_settle_seconds)}: the heat of pumping fades slowly`
  const facts: Parameters<typeof Facts>[0]['of'] = [
    [
      isSuctionHold(plan.hold) ? t`may rise` : t`may lose`,
      `${pressureDifference(plan.allowed_drop_Pa)} ${inTime}`,
    ],
    [t`smallest leak that shows`, `${pressureDifference(plan.smallest_drop_Pa)} ${inTime}${rate}`],
    [
      t`shortest hold that decides`,
      plan.needed_seconds === null ? t`none of a reasonable length` : duration(plan.needed_seconds),
    ],
    [
      t`settle`,
      duration(plan.settle_seconds) + (plan.needed_settle_seconds > plan.settle_seconds ? better : ''),
    ],
    plan.decides && [t`steady enough`, drift(plan.largest_drift_K_per_h)],
  ]
  return (
    <div class="plan stack">
      {!plan.decides && <Advice of={plan.cautions.filter(isOwn)} caution />}
      <details>
        <summary>
          <span class="plan-answer line">
            <StateWord
              state={plan.decides ? 'pass' : 'undecided'}
              word={
                plan.decides ? t`Can decide` : plan.needed_seconds === null ? t`Cannot decide` : t`Too short`
              }
            />
            <span>{plan.message}</span>
          </span>
        </summary>
        {plan.decides && <Advice of={plan.cautions.filter(isOwn)} caution />}
        <Facts of={facts} />
        <BudgetBar of={plan.budget} />
        <Advice of={plan.waits} caution={false} />
        <Advice of={plan.cautions.filter((one) => !isOwn(one))} caution={false} />
      </details>
    </div>
  )
}

/** Predicted resolution of this hold with these sensors, before the pump-up. */
export function PlanView({ hold }: { hold: string }) {
  const plan = usePosted<Plan>(withUnits('/api/plan'), { hold }).value
  return plan.value && plan.error === null ? (
    <PlanFacts plan={plan.value} />
  ) : (
    <Pending of={plan} words="Working out what this hold can decide…" />
  )
}
