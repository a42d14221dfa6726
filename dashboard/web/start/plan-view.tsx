import { useSignal } from '@preact/signals'
import { useEffect } from 'preact/hooks'
import type { Plan } from '#analysis/model/plan.ts'
import { post } from '../api-client.ts'
import { returns } from '../live/bench.ts'
import { withUnits } from '../settings.ts'
import { PlanFacts } from './plan-facts.tsx'

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
