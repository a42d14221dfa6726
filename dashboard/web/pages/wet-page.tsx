import { system } from '../live/bench.ts'
import { useAnswer } from '../parts/use-answer.ts'
import { address, type PageProps } from '../route.ts'
import { FlowPart } from '../wet/flow-part.tsx'
import { LevelPart } from '../wet/level-part.tsx'
import type { Known } from '../wet/looks.tsx'
import { StagePart } from '../wet/stage-part.tsx'
import { TorquePart } from '../wet/torque-part.tsx'

const parts = [
  ['stages', 'Fuelling checks', StagePart],
  ['level', 'Level sender', LevelPart],
  ['flow', 'Fuel flow', FlowPart],
  ['torque', 'Torque and work', TorquePart],
] as const

export function WetPage({ rest }: PageProps) {
  const [here, , Part] = parts.find(([id]) => id === rest[0]) ?? parts[0]
  const plane = system.value
  const known = useAnswer<Known>('/api/wet').value
  return (
    <div class="setup-view">
      <div class="setup-side">
        <h1>Fuel work</h1>
        <nav aria-label="Parts of the fuel work">
          <ul>
            {parts.map(([id, title]) => (
              <li key={id}>
                <a href={address('wet', id)} aria-current={here === id ? 'true' : undefined}>
                  {title}
                </a>
              </li>
            ))}
          </ul>
        </nav>
      </div>
      <div class="stack">
        {plane === null && <p class="note is-undecided">The system file cannot be read yet.</p>}
        {known.error && <p class="note is-undecided">{known.error}</p>}
        {plane !== null && known.value !== null && <Part system={plane} known={known.value} />}
      </div>
    </div>
  )
}
