import { system } from '../live/bench.ts'
import type { PageProps } from '../page.ts'
import { address } from '../route.ts'
import { FlowPart } from '../wet/flow-part.tsx'
import { LevelPart } from '../wet/level-part.tsx'
import { StagePart } from '../wet/stage-part.tsx'
import { TorquePart } from '../wet/torque-part.tsx'

const parts = [
  ['stages', 'Fuelling checks'],
  ['level', 'Level sender'],
  ['flow', 'Fuel flow'],
  ['torque', 'Torque and work'],
] as const

export function WetPage({ rest }: PageProps) {
  const here = parts.find(([id]) => id === rest[0])?.[0] ?? 'stages'
  const known = system.value
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
        {known === null && <p class="note is-undecided">The system file cannot be read yet.</p>}
        {known !== null && here === 'stages' && <StagePart system={known} />}
        {known !== null && here === 'level' && <LevelPart system={known} />}
        {known !== null && here === 'flow' && <FlowPart system={known} />}
        {known !== null && here === 'torque' && <TorquePart system={known} />}
      </div>
    </div>
  )
}
