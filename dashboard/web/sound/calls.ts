import { t } from '#analysis/reasons/language.ts'
import type { LiveState } from '#dashboard/api.ts'
import type { TuneName } from './player.ts'

/** An audible call to the operator: it repeats until it is answered or its cause ends. */
export interface Call {
  /** The tune and the vibration. */
  readonly tune: TuneName
  /** Short: it is spoken and shown beside the answer button. */
  readonly words: string
  /** Identity of the call: an answer applies to one key. */
  readonly key: string
  /** An answered call about a danger to people returns after this time while its cause lasts, [s]; null: never. */
  readonly againAfterS: number | null
}

/** State of the page besides the state of the bench. */
export interface Heard {
  readonly link: 'opening' | 'live' | 'stalled' | 'lost'
  /** A gauge or thermometer of the running hold has stopped sending; null while all send. */
  readonly silent: string | null
  /** Every measured section of the running hold has reached the test pressure. */
  readonly isAtPressure: boolean
  readonly isSuction: boolean
}

const againAfterS = 30

/** The calls that have a cause now, most urgent first. */
export function callsOf(state: LiveState, heard: Heard): readonly Call[] {
  const calls: Call[] = []
  const call = (tune: TuneName, words: string, key: string, again: number | null = null): void => {
    calls.push({ tune, words, key, againAfterS: again })
  }
  const has = (code: string): boolean => state.alarms.some((one) => one.code === code)
  const { hold } = state
  const isLive = heard.link === 'live'
  // After the link is lost, alarms are out of date: the lost link itself is the call.
  if (isLive && has('over-pressure')) call('stop', t`Over pressure. Stop and vent.`, 'over', againAfterS)
  if (isLive && has('ramp-too-fast')) call('stop', t`Too fast. Pump slowly.`, 'fast', againAfterS)
  if (isLive && has('pressure-fell')) call('pressure-lost', t`Pressure lost.`, 'lost', againAfterS)
  if (hold === null) return calls
  const of = `${hold.hold} ${hold.pumpUpS ?? ''}`
  const isSilent = has('logger-silent') || has('logger-unplugged') || heard.silent !== null
  if (heard.link === 'lost' || heard.link === 'stalled')
    call('sensor-lost', t`This page has lost the bench.`, `link-${of}`, againAfterS)
  else if (isSilent)
    call(
      'sensor-lost',
      t`Sensor lost${heard.silent ? `: ${heard.silent}` : ''}.`,
      `silent-${of}`,
      againAfterS,
    )
  if (!isLive) return calls

  const inStageS = (state.nowS ?? hold.stageStartedS) - hold.stageStartedS
  const isOver = hold.stageLengthS !== null && inStageS >= hold.stageLengthS
  if (hold.stage === 'pump-up' && heard.isAtPressure)
    call(
      'at-pressure',
      heard.isSuction ? t`At pressure. Close the pump valve.` : t`At pressure. Close the supply valve.`,
      `at-${of}`,
    )
  if (hold.stage === 'settle' && hold.settled?.ready) {
    const { startsInS = null } = hold.settled as { startsInS?: number | null }
    if (startsInS !== null) call('settled', t`Settled. Hands off, the hold starts.`, `settled-${of}`)
    else if (isOver) call('settled', t`Settled. Start the hold.`, `settled-${of}`)
  }
  if (hold.stage === 'hold') {
    if (hold.verdict !== null && hold.verdict !== 'undecided')
      call(verdictTune(hold.verdict), decidedWords[hold.verdict], `${hold.verdict} ${of}`)
    if (isOver) call('time-over', t`The hold time is over.`, `over-${of}`)
  }
  return calls
}

const decidedWords = {
  pass: t`Decided: pass so far.`,
  fail: t`Decided: fail.`,
  void: t`This hold proves nothing.`,
} as const

const verdictTune = (verdict: string): TuneName =>
  verdict === 'pass' || verdict === 'fail' ? verdict : 'unsure'

/** Tune for a single event: a stage that began, a verdict that was sealed. */
export function changeTune(before: LiveState | null, now: LiveState): TuneName | null {
  if (before === null) return null
  if (now.last !== null && now.last.record !== before.last?.record)
    return verdictTune(now.last.result.verdict)
  return now.hold !== null && now.hold.stage !== before.hold?.stage ? 'stage' : null
}
