import { clock, digits, pressureDifference, span } from '../quantity.ts'
import { temperatureUnit } from '../settings.ts'

/** A figure of the plan in the user's unit: the key says its SI unit. */
function figure(key: string, value: number): string {
  if (/seconds|_s$|S$/.test(key) && !/per_s$|PerS$/.test(key))
    return value >= 60 ? `${clock(value)} (${span(value)})` : span(value)
  if (/Pa$/.test(key)) return pressureDifference(value)
  if (/K_per_h$|KPerH$/.test(key)) return `${kelvin(value)}/h`
  if (/_K$|[a-z]K$/.test(key)) return kelvin(value)
  if (/scc_per_min$|SccPerMin$/.test(key)) return `${digits(value, 3)} scc/min`
  if (/mL_per_min$/.test(key)) return `${digits(value, 3)} mL/min`
  return digits(value, Math.abs(value) >= 10 ? 1 : 3)
}

const kelvin = (value: number): string =>
  temperatureUnit.value === 'degF' ? `${digits(value * 1.8, 2)} °F` : `${digits(value, 2)} K`

const words = (key: string): string =>
  key
    .replace(/([a-z])([A-Z])/g, '$1 $2')
    .replace(/_/g, ' ')
    .toLowerCase()
    .replace(/ (pa|s|k|k per h|scc per min|ml per min)$/, '')

interface Line {
  readonly key: string
  readonly text: string
  readonly source?: string
}

function lineOf(key: string, one: unknown): Line {
  if (typeof one === 'string') return { key, text: one }
  const part = (one ?? {}) as Record<string, unknown>
  const text = [part['message'], part['text'], part['rule'], part['what'], part['why']].find(
    (t) => typeof t === 'string',
  )
  return {
    key,
    text: typeof text === 'string' ? text : JSON.stringify(one),
    ...(typeof part['source'] === 'string' ? { source: part['source'] } : {}),
  }
}

/** Keys a person has no use for here: the page shows the hold itself, and moles are shown as a drop. */
const passOver = /^(stillhold|hold|section|sections|verdict|code)$|mol_per_s$|MolPerS$/

/** The plan as the server tells it: its sentences first, then its figures. */
export function PlanFacts({ plan }: { plan: Readonly<Record<string, unknown>> }) {
  const sentences: Line[] = []
  const figures: Line[] = []
  const take = (key: string, value: unknown, deep: boolean): void => {
    if (passOver.test(key) || value === null || value === undefined) return
    if (typeof value === 'number') figures.push({ key: words(key), text: figure(key, value) })
    else if (typeof value === 'string') sentences.push({ key, text: value })
    else if (typeof value === 'boolean') figures.push({ key: words(key), text: value ? 'yes' : 'no' })
    else if (Array.isArray(value)) sentences.push(...value.map((one) => lineOf(key, one)))
    else if (deep) for (const [name, inner] of Object.entries(value)) take(`${key}_${name}`, inner, false)
  }
  for (const [key, value] of Object.entries(plan)) take(key, value, true)
  return (
    <div class="plan">
      <ul class="plan-sentences">
        {sentences.map((one) => (
          <li key={one.key + one.text} class={/caution/.test(one.key) ? 'note is-undecided' : ''}>
            {one.text} {one.source && <span class="soft small">({one.source})</span>}
          </li>
        ))}
      </ul>
      <dl class="facts">
        {figures.map((one) => (
          <>
            <dt>{one.key}</dt>
            <dd>{one.text}</dd>
          </>
        ))}
      </dl>
    </div>
  )
}
