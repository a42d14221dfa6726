import type { Campaign, CampaignStep } from '#analysis/model/campaign.ts'
import type { BudgetSource, HoldResult } from '#analysis/model/hold-result.ts'
import { duration } from './figures.ts'
import { t } from './language.ts'

const kinds = { 'known-leak': t`known leak`, 'known-volume': t`known volume` } as const

/** Proof of a hold's bench in words: the check and the supply. Records of version 0.1 contain neither. */
export function benchWords({ proof, supply }: Pick<HoldResult, 'proof' | 'supply'>): string {
  const off =
    supply === 'off'
      ? t`the supply was disconnected`
      : supply === 'looked-at'
        ? t`a look before pump-up showed the supply shut`
        : t`nothing proves the supply shut`
  return `${provenWords(proof)}; ${off}`
}

/** `proven by a known leak (K1, 97 to 104 % of it seen)`, or why not. */
export function provenWords(proof: HoldResult['proof']): string {
  if (proof == null) return t`not proven by a known leak or volume`
  const { kind, check, found, expected, proven } = proof
  const seen =
    found === null
      ? t`too few readings`
      : t`${Math.round((100 * found.low) / expected)} to ${Math.round((100 * found.high) / expected)} % of it seen`
  return proven
    ? t`proven by a ${kinds[kind]} (${check}, ${seen})`
    : t`not proven by the ${kinds[kind]} ${check} (${seen})`
}

/** `Shut V1, V2; V3 stays open. Put in V4. Gauge p-lines on feed-lines. 10 psi, settle 3 min, hold 10 min.` */
export function setUpWords(step: CampaignStep, pressure: (pa: number) => string): string {
  if (step.kind === 'plugs-out') return t`The campaign ends when every one is out.`
  const open = step.open.length > 0 ? t`${step.open.join(', ')} open` : ''
  const valves = step.shut.filter((id) => !step.plugs.includes(id))
  const shut = valves.length > 0 ? t`Shut ${valves.join(', ')}` : ''
  const stated = [
    step.pressure_Pa === null ? '' : pressure(step.pressure_Pa),
    step.settle_seconds === null ? '' : t`settle ${duration(step.settle_seconds)}`,
    step.hold_seconds === null ? '' : t`hold ${duration(step.hold_seconds)}`,
  ]
  const sentences = [
    [shut, open].filter(Boolean).join('; '),
    step.plugs.length > 0 ? t`Put in ${step.plugs.join(', ')}` : '',
    step.gauges.length > 0
      ? t`Gauge ${step.gauges.map(({ channel, section, move }) => t`${channel} on ${section}${move ? t` (move it there)` : ''}`).join(', ')}`
      : '',
    stated.filter(Boolean).join(', '),
  ]
  const first =
    step.repair_first.length > 0
      ? t`Find the leak and work on it first: ${step.repair_first.join(', ')}. `
      : ''
  return `${first}${sentences.filter(Boolean).join('. ')}.`
}

/** States whether the campaign is the shortest, or its lower bound. */
export function shortestWords({ exact, minutes, bound_minutes }: Campaign): string {
  if (exact) return t`No sequence takes less time.`
  const gap = Math.ceil(100 * (minutes / bound_minutes - 1))
  return t`Perhaps not the shortest: none takes less than ${duration(60 * bound_minutes)} (this one is ${gap} % above).`
}

/** Description of each source, and how to reduce it. */
const budgetSources: Readonly<Record<BudgetSource, readonly [what: string, improve: string]>> = {
  gauge: [
    t`noise and steps of the gauge`,
    t`a gauge with less noise or finer steps, or more readings a second`,
  ],
  drift: [t`drift of the gauge`, t`a gauge that drifts less: its drift is assumed proportional to its noise`],
  heat: [
    t`heat between gas and wall`,
    t`settle longer before the hold, pump up slowly, keep sun and draughts off the section`,
  ],
  temperature: [
    t`temperature of room and wall`,
    t`a steadier room, and a thermometer with finer steps on the wall of the section`,
  ],
  creep: [
    t`slow creep of hoses and sealant`,
    t`settle longer under pressure before the hold, or hold longer`,
  ],
  compliance: [t`how far the section stretches`, t`measure the stretch and state it in the system file`],
  flow: [t`how the leak follows the pressure`, t`a shorter hold, in which the pressure falls less`],
  weather: [t`change of the atmosphere`, t`connect a barometer, or one with finer steps`],
  vessel: [
    t`reference vessel beside the section`,
    t`a vessel of the same size and wall, closed and proven tight`,
  ],
  volume: [t`volume of the section`, t`measure the volume by a known injection and state it more closely`],
  calibration: [
    t`span and zero of the gauge, leak law`,
    t`read the zero before pump-up and after the vent; 1.5 % of the leak remains in any case`,
  ],
  rig: [t`leak of the rig`, t`hold the rig alone for longer, or make it tighter`],
}

export const budgetTitle = t`What makes the interval wide`

/** Each source of at least one percent in words, and the first improvement. */
export const budgetParts = (budget: NonNullable<HoldResult['budget']>) => ({
  shares: budget
    .filter(({ share }) => share >= 0.01)
    .map(({ source, share }) => ({
      share,
      words: `${budgetSources[source][0]} ${Math.round(100 * share)} %`,
    })),
  improve: budgetSources[budget[0].source][1],
})

const shades = '█▓▒░·'
const barWidth = 40

/** The budget for a terminal: a bar, what its shades mean, and the first improvement, with `name` in so many columns. */
export function budgetWords(budget: HoldResult['budget'], columns: number): string[] {
  const width = 'width'.padEnd(columns)
  if (budget == null) return [`${width}unknown: there is no interval of a leak`]
  const { shares, improve } = budgetParts(budget)
  const shade = (i: number): string => shades[Math.min(i, shades.length - 1)]
  const bar = shares.map(({ share }, i) => shade(i).repeat(Math.max(1, Math.round(barWidth * share))))
  return [
    `${width}${bar.join('')}`,
    `${' '.repeat(columns)}${budgetTitle}: ${shares.map(({ words }, i) => `${shade(i)} ${words}`).join(', ')}`,
    `${'improve'.padEnd(columns)}first: ${improve}`,
  ]
}
