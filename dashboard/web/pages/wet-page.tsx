import { t } from '#analysis/reasons/language.ts'
import { system } from '../live/bench.ts'
import { Pending } from '../parts/facts.tsx'
import { SideNav } from '../parts/panel-head.tsx'
import { useAnswer } from '../parts/use-answer.ts'
import type { PageProps } from '../route.ts'
import type { Known } from '../wet/judge.tsx'
import { FlowPart, LevelPart, TorquePart } from '../wet/level-part.tsx'
import { StagePart } from '../wet/stage-part.tsx'

const parts = [
  ['stages', t`Fuelling checks`, StagePart],
  ['level', t`Level sender`, LevelPart],
  ['flow', t`Fuel flow`, FlowPart],
  ['torque', t`Torque and work`, TorquePart],
] as const

export function WetPage({ rest }: PageProps) {
  const [here, , Part] = parts.find(([id]) => id === rest[0]) ?? parts[0]
  const plane = system.value
  const known = useAnswer<Known>('/api/wet').value
  return (
    <div class="setup-view stack">
      <SideNav title="Fuel work" page="wet" of="fuel work" parts={parts} here={here} />
      <div class="stack">
        {plane === null && <p class="note is-undecided">The system file cannot be read yet.</p>}
        <Pending of={known} />
        {plane !== null && known.value !== null && <Part system={plane} known={known.value} />}
      </div>
    </div>
  )
}
