import type { System } from '#analysis/model/system.ts'
import { duration } from '#analysis/reasons/figures.ts'
import { pressure, withUnit } from '../quantity.ts'
import { address } from '../route.ts'

/** What can be held: each hold of the system file is one tap. */
export function HoldChoices({ system, retests }: { system: System; retests: string | null }) {
  return (
    <ul class="hold-choices" aria-label="Holds of the system file">
      {system.holds.map((one) => (
        <li key={one.id}>
          <a class="button" href={address('hold', 'start', one.id, ...(retests ? [retests] : []))}>
            <strong>{one.id}</strong>
            <span class="soft">
              {one.sections.join(', ')}, {withUnit(one.pressurePa, pressure(), 1)} for {duration(one.holdS)}
            </span>
          </a>
        </li>
      ))}
    </ul>
  )
}
