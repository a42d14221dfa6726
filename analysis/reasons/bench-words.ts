import type { Campaign, CampaignStep } from '#analysis/model/campaign.ts'
import type { HoldResult } from '#analysis/model/hold-result.ts'
import { duration } from './figures.ts'

const kinds = { 'known-leak': 'known leak', 'known-volume': 'known volume' } as const

/** What proved the bench of a hold, in words: the check and the supply. Records of version 0.1 carry neither. */
export function benchWords({ proof, supply }: Pick<HoldResult, 'proof' | 'supply'>): string {
  const off =
    supply === 'off'
      ? 'the supply was taken off'
      : supply === 'looked-at'
        ? 'a look before pump-up showed the supply shut'
        : 'nothing proves the supply shut'
  return `${provenWords(proof)}; ${off}`
}

/** `proven by a known leak (K1, 97 to 104 % of it seen)`, or why not. */
export function provenWords(proof: HoldResult['proof']): string {
  if (proof == null) return 'not proven by a known leak or volume'
  const { kind, check, found, expected, proven } = proof
  const seen =
    found === null
      ? 'too few readings'
      : `${Math.round((100 * found.low) / expected)} to ${Math.round((100 * found.high) / expected)} % of it seen`
  return proven
    ? `proven by a ${kinds[kind]} (${check}, ${seen})`
    : `not proven by the ${kinds[kind]} ${check} (${seen})`
}

/** `Shut V1, V2; V3 stays open. Put in V4. Gauge p-lines on feed-lines. 10 psi, settle 3 min, hold 10 min.` */
export function setUpWords(step: CampaignStep, pressure: (pa: number) => string): string {
  if (step.kind === 'plugs-out') return 'The campaign ends when every one is out.'
  const open = step.open.length > 0 ? `${step.open.join(', ')} open` : ''
  const valves = step.shut.filter((id) => !step.plugs.includes(id))
  const shut = valves.length > 0 ? `Shut ${valves.join(', ')}` : ''
  const stated = [
    step.pressure_Pa === null ? '' : pressure(step.pressure_Pa),
    step.settle_seconds === null ? '' : `settle ${duration(step.settle_seconds)}`,
    step.hold_seconds === null ? '' : `hold ${duration(step.hold_seconds)}`,
  ]
  const sentences = [
    [shut, open].filter(Boolean).join('; '),
    step.plugs.length > 0 ? `Put in ${step.plugs.join(', ')}` : '',
    step.gauges.length > 0
      ? `Gauge ${step.gauges.map(({ channel, section }) => `${channel} on ${section}`).join(', ')}`
      : '',
    stated.filter(Boolean).join(', '),
  ]
  const first =
    step.repair_first.length > 0
      ? `Find the leak and work on it first: ${step.repair_first.join(', ')}. `
      : ''
  return `${first}${sentences.filter(Boolean).join('. ')}.`
}

/** How sure it is that no sequence takes less. */
export function shortestWords({ exact, minutes, bound_minutes }: Campaign): string {
  if (exact) return 'No sequence takes less time.'
  const gap = Math.ceil(100 * (minutes / bound_minutes - 1))
  return `Perhaps not the shortest: none takes less than ${duration(60 * bound_minutes)} (this one is ${gap} % above).`
}
