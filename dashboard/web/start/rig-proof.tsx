import type { Ledger } from '#analysis/model/ledger.ts'
import type { HoldSpec } from '#analysis/model/system.ts'
import { StateWord } from '../parts/state-mark.tsx'
import { useAnswer } from '../parts/use-answer.ts'
import { address } from '../route.ts'
import { proofWords } from '../words.ts'

/** Hose, caps and gauge leak too: what is known of them. */
export function RigProof({ spec }: { spec: HoldSpec }) {
  const ledger = useAnswer<Ledger>('/api/ledger')
  const fittings = ledger.value.value?.fittings.filter((one) => one.section === spec.rig) ?? []
  const open = fittings.filter((one) => one.proof.state !== 'proven')
  if (ledger.value.error) return <p class="note is-undecided">{ledger.value.error}</p>
  if (fittings.length > 0 && open.length === 0) {
    return (
      <p>
        <StateWord state="proven" word="Rig proven" /> by {fittings[0].proof.record}.
      </p>
    )
  }
  return (
    <div class="note is-undecided">
      <p>
        The rig <strong>{spec.rig}</strong> is not proven:{' '}
        {open.map((one) => `${one.id} ${proofWords[one.proof.state]}`).join(', ') ||
          'no hold of it is on record'}
        .
      </p>
      <p>
        Hold the rig alone first, or the verdict rests on an unproven rig.{' '}
        <a href={address('system')}>See the ledger</a>
      </p>
    </div>
  )
}
