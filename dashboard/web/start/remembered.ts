import type { LiveState } from '#dashboard/api.ts'
import { rememberedJson } from '../settings.ts'

/** Sentences confirmed on this device, each with its time. */
interface Confirmed {
  /** Aircraft of these sentences: valves and plugs of another one are in other positions. */
  readonly aircraft?: string
  /** The hold that was started last with them. */
  readonly hold: string
  readonly at: Readonly<Record<string, { readonly ms: number; readonly benchNs: string }>>
}

const confirmed = rememberedJson<Confirmed>('confirmed', { hold: '', at: {} })

const isToday = (ms: number): boolean => new Date(ms).toDateString() === new Date().toDateString()
const benchNowNs = ({ recordingStartNs, nowS }: LiveState): string =>
  String(BigInt(recordingStartNs ?? '0') + BigInt(Math.round((nowS ?? 0) * 1e9)))

/** The part at the start of a sentence of the state sheet, such as `V2` of “V2 (selector) is shut”. */
const partOf = (sentence: string): string => /^(\S+) \(/.exec(sentence)?.[1] ?? ''

/**
 * When each sentence was confirmed today, [ms]. A sentence is absent when it must be confirmed again: on another day,
 * after its valve was moved, after a plug was fitted or removed, or after a hold that this device did not start.
 */
export function rememberedAt(sentences: readonly string[], state: LiveState): ReadonlyMap<string, number> {
  const { hold, at, aircraft } = confirmed.value
  if (aircraft !== state.aircraft) return new Map()
  const isOthers = state.last !== null && state.last.result.hold !== hold
  const found = new Map<string, number>()
  for (const sentence of sentences) {
    const known = at[sentence]
    if (known === undefined || !isToday(known.ms)) continue
    const part = partOf(sentence)
    const isMoved = state.marks.some(
      ({ kind, id, ns }) =>
        BigInt(ns) > BigInt(known.benchNs) &&
        ((kind === 'valve' && id === part) || (kind === 'plug' && /\bplug\b/i.test(sentence))),
    )
    if (!isMoved && !(isOthers && part !== '')) found.set(sentence, known.ms)
  }
  return found
}

/** Stores the sentences as met now; contradicted ones, such as an open valve, are dropped. */
export function confirm(
  hold: string,
  sentences: readonly string[],
  remembered: ReadonlyMap<string, number>,
  state: LiveState,
): void {
  const parts = new Set(sentences.map(partOf).filter((part) => part !== ''))
  const { aircraft } = state
  const known = confirmed.value.aircraft === aircraft ? confirmed.value.at : {}
  const kept = Object.entries(known).filter(([sentence]) => !parts.has(partOf(sentence)))
  const now = { ms: Date.now(), benchNs: benchNowNs(state) }
  confirmed.value = {
    hold,
    aircraft,
    at: Object.fromEntries([
      ...kept,
      ...sentences.map((one) => [one, (remembered.has(one) && known[one]) || now] as const),
    ]),
  }
}
