import { signal } from '@preact/signals'
import type { LiveState } from '#dashboard/api.ts'
import { keep, recallJson } from '../settings.ts'

/** What was read and set on this device: each sentence with the moment at which it was confirmed. */
interface Confirmed {
  /** Which aircraft of the workshop they are of: another one's valves and plugs stand otherwise. */
  readonly aircraft?: string
  /** Hold that was started last with these. */
  readonly hold: string
  readonly at: Readonly<Record<string, { readonly ms: number; readonly benchNs: string }>>
}

const storageName = 'confirmed'
const confirmed = signal(recallJson<Confirmed>(storageName, { hold: '', at: {} }))

const isToday = (ms: number): boolean => new Date(ms).toDateString() === new Date().toDateString()
const benchNowNs = ({ recordingStartNs, nowS }: LiveState): string =>
  String(BigInt(recordingStartNs ?? '0') + BigInt(Math.round((nowS ?? 0) * 1e9)))

/** The part a sentence of the state sheet begins with, such as `V2` of “V2 (selector) is shut”. */
const partOf = (sentence: string): string => /^(\S+) \(/.exec(sentence)?.[1] ?? ''

/**
 * When each sentence was confirmed today, [ms]; a sentence is absent where it must be confirmed again: on another day,
 * after its valve was moved, after a plug was put in or taken out, or after a hold that this device did not start.
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

/** These are met now; what they contradict, such as a valve that was open, is forgotten. */
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
      ...sentences.map((one) => [one, remembered.has(one) ? known[one] : now] as const),
    ]),
  }
  keep(storageName, JSON.stringify(confirmed.value))
}
