import { useSignal } from '@preact/signals'
import type { HuntResult } from '#analysis/hunt/hunt.ts'
import type { Ledger } from '#analysis/hunt/ledger.ts'
import { bench, marks, system } from '../live/bench.ts'
import { Pending } from '../parts/facts.tsx'
import { StateWord } from '../parts/state-mark.tsx'
import { Term } from '../parts/term.tsx'
import { useAnswer } from '../parts/use-answer.ts'
import { address, go, type PageProps } from '../route.ts'
import { withUnits } from '../settings.ts'
import { CampaignPanel } from '../system/campaign-panel.tsx'
import { DrawSystem } from '../system/draw-system.tsx'
import { FittingPanel } from '../system/fitting-panel.tsx'
import { LedgerPanel } from '../system/ledger-panel.tsx'
import { NextSteps } from '../system/next-steps.tsx'
import { SystemDrawing } from '../system/system-drawing.tsx'

/** A never-held fitting is a suspect in the drawing only when looks or other holds are evidence against it. */
const SUSPICIOUS = 0.3

export function SystemPage({ rest }: PageProps) {
  const turns = useSignal(0)
  // A sealed record or a new mark may change the state of proof.
  const telling = marks.value.filter((one) => /^(work|look|plug|valve)$/.test(one.kind)).length
  const again = `${turns.value} ${bench.value?.last?.record} ${telling}`
  const ledger = useAnswer<Ledger>('/api/ledger', again).value
  const hunt = useAnswer<HuntResult>(withUnits('/api/hunt'), again).value
  const known = system.value
  const picked = rest[0] ?? null
  if (picked === 'campaign') return <CampaignPanel />
  if (known === null) {
    return (
      <p class="note is-undecided">
        The system file cannot be read yet. <a href={address('setup', 'file')}>Open it in Setup</a>
      </p>
    )
  }
  if (picked === 'draw') return <DrawSystem system={known} part={rest.slice(1)} />
  const states = new Map((ledger.value?.fittings ?? []).map((one) => [one.id, one.proof.state]))
  // A never-held fitting has only its prior, the leak rate of its kind on any aircraft: that is no suspicion.
  const suspects = new Map(
    (hunt.value?.fittings ?? [])
      .filter((one) => states.get(one.id) !== 'never-held' || one.leaking >= SUSPICIOUS)
      .map((one) => [one.id, one.leaking]),
  )
  return (
    <div class="system-view stack">
      <h1 class="unseen-on-phone">{known.name}</h1>
      <section class="panel drawing-panel" aria-label="Drawing">
        <ul class="line small unseen-on-phone">
          {(['proven', 'stale', 'failed', 'never-held'] as const).map((state) => (
            <li key={state}>
              <StateWord state={state} />
              {state === 'stale' && <Term of="stale" />}
            </li>
          ))}
        </ul>
        <SystemDrawing
          system={known}
          ledger={ledger.value}
          picked={picked}
          suspects={suspects}
          onPick={(id) => {
            if (id === picked) go('system')
            else go('system', id)
          }}
        />
      </section>
      <div class="stack side">
        {picked !== null && (
          <FittingPanel key={picked} id={picked} system={known} ledger={ledger.value} hunt={hunt.value} />
        )}
        {hunt.value && <NextSteps hunt={hunt.value} />}
        <Pending of={hunt} words="Weighing all holds and looks…" />
      </div>
      <div class="stack">
        {ledger.value && <LedgerPanel ledger={ledger.value} onChanged={() => turns.value++} />}
        <Pending of={ledger} words="Reading the ledger…" />
      </div>
    </div>
  )
}
