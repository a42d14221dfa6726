import { useSignal } from '@preact/signals'
import type { Campaign, CampaignStep } from '#analysis/model/campaign.ts'
import { setUpWords, shortestWords } from '#analysis/reasons/bench-words.ts'
import { duration, figuresIn } from '#analysis/reasons/figures.ts'
import { t } from '#analysis/reasons/language.ts'
import { bench } from '../live/bench.ts'
import { PlugOut } from '../marks/part-tools.tsx'
import { Notes, Pending } from '../parts/facts.tsx'
import { PanelHead } from '../parts/panel-head.tsx'
import { useAnswer } from '../parts/use-answer.ts'
import { address } from '../route.ts'
import { pressureUnit } from '../settings.ts'
import { Prepare } from './next-steps.tsx'

/** The set-ups that close the ledger, in order; replanned after each sealed record. */
export function CampaignPanel() {
  const turns = useSignal(0)
  const answer = useAnswer<Campaign>('/api/campaign', `${turns.value} ${bench.value?.last?.record}`).value
  const plan = answer.value
  if (plan === null) return <Pending of={answer} words="Planning the campaign…" />
  return (
    <section class="panel stack" aria-label="Campaign">
      <h1>{plan.system}</h1>
      <PanelHead title="Campaign">
        <a href="/api/campaign.pdf">Sheet for the wall (PDF)</a>
        <a href={address('system')}>Back to the system</a>
      </PanelHead>
      <p>{plan.message}</p>
      <meter min={0} max={plan.total} value={plan.proven} aria-label="Fittings proven" />
      <p class="small soft">
        {plan.proven} of {plan.total} fittings are proven. {plan.steps.length > 0 && shortestWords(plan)}
      </p>
      <ol class="next-steps stack">
        {plan.done.map(({ record, proves }) => (
          <li key={record}>
            <h3>
              ☑ <a href={address('records', record)}>{record}</a>
            </h3>
            <p class="soft">Proves {proves.join(', ')}.</p>
          </li>
        ))}
        {plan.steps.map((step, i) => (
          <Step
            key={step.title}
            step={step}
            isFirst={i === 0}
            onOut={() => turns.value++}
            now={plan.plugs_in}
          />
        ))}
      </ol>
      <Notes of={plan.uncoverable.map(({ id, why }) => `${id}: ${why}`)} state="void" />
    </section>
  )
}

interface StepProps {
  readonly step: CampaignStep
  readonly isFirst: boolean
  readonly now: readonly string[]
  readonly onOut: () => void
}

function Step({ step, isFirst, now, onOut }: StepProps) {
  const words = figuresIn({ pressure: pressureUnit.value, temperature: 'degC', volume: 'L' })
  return (
    <li class={isFirst ? 'is-first' : ''}>
      <h3>
        ☐ {step.title}, {duration(60 * step.minutes)}
      </h3>
      <p class="soft">
        {setUpWords(step, words.pressure)}
        {step.proves.length > 0 && t` Proves ${step.proves.join(', ')}.`}
      </p>
      <Notes of={step.cautions} />
      <Prepare hold={step.hold} isFirst={isFirst} />
      {step.kind === 'plugs-out' && now.map((id) => <PlugOut key={id} id={id} onOut={onOut} />)}
    </li>
  )
}
