import type { LiveState } from '#dashboard/api.ts'

export type TuneName = 'stage' | 'pass' | 'fail' | 'unsure' | 'stop'

const isStop = (state: LiveState): boolean =>
  state.alarms.some((one) => one.code === 'over-pressure' || one.code === 'ramp-too-fast')

/** What a change of the bench sounds like: a call to stop before all else, then a verdict, then a stage that begins. */
export function tuneFor(before: LiveState | null, now: LiveState): TuneName | null {
  if (before === null) return null
  if (isStop(now)) return isStop(before) ? null : 'stop'
  const verdict = now.last?.record !== before.last?.record ? now.last?.result.verdict : undefined
  if (verdict !== undefined) return verdict === 'pass' || verdict === 'fail' ? verdict : 'unsure'
  return now.hold !== null && now.hold.stage !== before.hold?.stage ? 'stage' : null
}
