import { type Signal, useSignal } from '@preact/signals'
import { useRef } from 'preact/hooks'
import { isSectionPressure } from '#analysis/model/system.ts'
import { duration } from '#analysis/reasons/figures.ts'
import { t } from '#analysis/reasons/language.ts'
import type { RunningHold, Settling } from '#dashboard/api.ts'
import { bench, channels, specOf, tell } from '../live/bench.ts'
import { takeBack } from '../marks/outbox.ts'
import { Confirm, Dialog } from '../parts/dialog.tsx'
import { Button, Field } from '../parts/fields.tsx'
import { toast } from '../parts/toast.tsx'
import { useTask } from '../parts/use-answer.ts'
import { clock, pressure, twoFigures } from '../quantity.ts'
import { markWord } from '../words.ts'
import { isProving, ProofStep, StrokeStep, SupplyStep } from './proof-step.tsx'

const steps = {
  'pump-up': { to: 'settle', word: t`At pressure: settle`, hint: t`Close the supply, then settle.` },
  settle: { to: 'hold', word: t`Start the hold`, hint: t`Hands off: doors shut, nobody touches the wing.` },
  hold: {
    to: 'vent',
    word: t`End the hold and vent`,
    hint: t`Open the vent slowly; the gauge must be seen to go to zero.`,
  },
  vent: {
    to: 'end',
    word: t`Vented: seal the record`,
    hint: t`Keep the gauge on until it reads zero. Then take out every plug that went in.`,
  },
} as const

/** Debounce: a tap this soon after the last belongs to it, since the next step appears under the same finger, [ms]. */
const oneTapMs = 1000
/** A hold may start this long before the end of its settle time without a question, [s]. */
const nearlySettledS = 10

/** The gauge must be steady this long after the vent before its second zero is read (analysis/verdict/second-zero.ts), [s]. */
const secondZeroS = 15
/** Share of the test pressure within which the gauge is steady. */
const stillShare = 0.002

/** `−0.12 psi a minute`. */
function slopeWords(paPerS: number): string {
  const { slope, symbol } = pressure()
  return t`${twoFigures(paPerS * 60 * slope)} ${symbol} a minute`
}

/** Why the hold does not start yet, and whether it starts without a tap. */
function settlingWords({ ready, nowPaPerS, beforePaPerS, startsInS }: Settling, leftS: number): string {
  if (startsInS !== null) return t`Hands off: the hold starts in ${Math.ceil(startsInS)} s without a tap.`
  if (nowPaPerS === null || beforePaPerS === null)
    return t`Gathering readings to see how evenly the pressure changes.`
  if (ready)
    return t`The pressure changes evenly, ${slopeWords(nowPaPerS)}. The hold starts after the settle time.`
  const uneven = t`Not even yet: ${slopeWords(nowPaPerS)} now, ${slopeWords(beforePaPerS)} shortly before.`
  return leftS > 0
    ? uneven
    : t`${uneven} The settle time is over: the hold starts with your tap, or when the pressure changes evenly.`
}

interface NextStep {
  /** On its button, where it is not the usual word. */
  readonly word?: string
  readonly hint: string
  /** The step is due: its button is primary. */
  readonly ready: boolean
  /** The step needs a confirmation. */
  readonly asks?: boolean
  readonly offered?: boolean
}

/** The operator's next step and its condition. */
function nextStep(hold: RunningHold, inStageS: number, suction: boolean, stillS: number): NextStep {
  const leftS = Math.max(0, (hold.stageLengthS ?? 0) - inStageS)
  if (hold.broken != null && hold.stage !== 'vent')
    return { word: t`I am venting it now`, hint: steps.hold.hint, ready: true }
  switch (hold.stage) {
    case 'pump-up': {
      const word = suction ? t`Drawn down: settle` : undefined
      const close = suction ? t`Close the valve to the pump, then settle.` : steps['pump-up'].hint
      if (hold.atPressure !== false) return { word, hint: close, ready: true }
      const how = suction ? t`Draw down` : t`Pump up`
      const hint = t`${how} slowly. The next step comes when the gauge is at pressure.`
      return { hint, ready: true, offered: false }
    }
    case 'settle': {
      const ready = hold.settled?.ready === true && leftS <= nearlySettledS
      const hint = hold.settled ? settlingWords(hold.settled, leftS) : steps.settle.hint
      return { hint, ready, asks: !ready }
    }
    case 'hold': {
      const word = hold.time === 'until-decided' ? t`Decided: vent now` : undefined
      if (hold.verdict === 'void')
        return { word, hint: t`This hold proves nothing more. Vent it.`, ready: true }
      if (!isDecided(hold)) return { hint: steps.settle.hint, ready: false, asks: true }
      if (word !== undefined) return { word, hint: t`Decided: you may vent now.`, ready: true }
      if (leftS === 0) return { hint: steps.hold.hint, ready: true }
      const hint = t`Decided. The prescribed time runs for ${clock(leftS)} more.`
      return { hint, ready: false, asks: true }
    }
    default: {
      const isVent = hold.stage === 'vent'
      const waits = isVent && hold.broken == null && stillS < secondZeroS
      const hint = waits
        ? t`Leave the vent open and the gauge on until it is steady for ${secondZeroS} s (${Math.floor(stillS)} s so far): the second zero shows whether the gauge drifted.`
        : steps.vent.hint
      const word = hold.broken == null ? undefined : t`Vented: end the hold`
      return { word, hint, ready: !waits, offered: isVent }
    }
  }
}

const isDecided = ({ verdict }: RunningHold): boolean => verdict !== null && verdict !== 'undecided'

/** How long the gauges of a vented hold have been steady, [s]. */
function useStillness(hold: RunningHold): number {
  const anchor = useRef<{ readonly pa: readonly number[]; readonly atS: number } | null>(null)
  const spec = specOf(hold.hold)
  const nowS = bench.value?.nowS
  if (hold.stage !== 'vent' || spec === undefined || nowS == null) {
    anchor.current = null
    return 0
  }
  const pa = channels.value
    .filter(({ measures, section }) => isSectionPressure(measures) && spec.sections.includes(section ?? ''))
    .map(({ id }) => bench.value?.newest[id]?.reading ?? 0)
  const band = stillShare * Math.abs(spec.pressurePa)
  const still = anchor.current?.pa.every((at, i) => Math.abs((pa[i] ?? at) - at) <= band)
  if (anchor.current === null || !still) anchor.current = { pa, atS: nowS }
  return nowS - anchor.current.atS
}

/** The next step as the main button, abandoning the hold beside it. */
export function StageControls({ hold, suction }: { hold: RunningHold; suction: boolean }) {
  const { busy, run } = useTask()
  const tappedAtMs = useRef(Number.NEGATIVE_INFINITY)
  const [isGivingUp, isEarly] = [useSignal(false), useSignal(false)]
  const mustVent = hold.broken != null && hold.stage !== 'vent'
  const step = hold.stage === 'idle' ? null : steps[mustVent ? 'hold' : hold.stage]
  const inStageS = Math.max(0, (bench.value?.nowS ?? hold.stageStartedS) - hold.stageStartedS)
  const stillS = useStillness(hold)
  const { word, offered = true, ready, asks = false, hint } = nextStep(hold, inStageS, suction, stillS)
  const leftS = Math.max(0, (hold.stageLengthS ?? 0) - inStageS)

  const enter = (stage: string, reason?: string) =>
    run(async () => {
      tappedAtMs.current = performance.now()
      const state = await tell('/api/hold/stage', { stage, ...(reason && { reason }) })
      const begun = state.marks.findLast(({ kind }) => kind === 'stage')
      if (begun && stage !== 'end')
        toast(t`Marked: ${markWord(stage)}.`, { undo: () => void takeBack(begun) })
    })
  const proving = isProving(hold, leftS)

  return (
    <section class="stage-controls stack tight" aria-label="Next step">
      {hold.stage === 'settle' && <StrokeStep hold={hold} />}
      {hold.stage === 'hold' && !mustVent && <ProofStep hold={hold} leftS={leftS} />}
      {hold.stage === 'settle' && !suction && <SupplyStep hold={hold} />}
      <div class="row">
        {step && offered && (
          <Button
            class={`large ${ready && !proving ? 'main' : ''}`}
            // Not disabled: that would move the focus, and the next step uses the same key.
            aria-disabled={busy.value}
            onClick={() => {
              const again = performance.now() - tappedAtMs.current < oneTapMs
              tappedAtMs.current = performance.now()
              if (busy.value || again) return
              if (asks) isEarly.value = true
              else void enter(step.to)
            }}
          >
            {word ?? step.word}
          </Button>
        )}
        {hold.stage !== 'vent' && (
          <Button class="quiet" onClick={() => (isGivingUp.value = true)}>
            Give this hold up
          </Button>
        )}
      </div>
      {hint && <p class="soft">{hint}</p>}
      {hold.stage === 'settle' ? (
        <Confirm
          title="Start the hold early?"
          open={isEarly}
          stay="Keep settling"
          go="Start now"
          onGo={() => void enter('hold')}
        >
          {leftS > 0 && t`It has settled for ${duration(inStageS)} of ${duration(hold.stageLengthS ?? 0)}. `}
          {hold.settled?.ready !== true && t`The pressure does not change evenly yet. `}
          The heat of pumping then counts as uncertainty, and the hold takes longer to decide.
        </Confirm>
      ) : (
        <EndEarly open={isEarly} hold={hold} leftS={leftS} onEnd={(reason) => void enter('vent', reason)} />
      )}
      <Confirm
        title="Give this hold up?"
        open={isGivingUp}
        stay="Go on"
        go="Give it up"
        look="danger"
        onGo={() => void enter('end')}
      >
        Vent the section first. The recording is kept, and the record says that the hold was ended.
      </Confirm>
    </section>
  )
}

/** Common reasons, large enough to tap with a glove; any other is typed. */
const usual = [
  t`the verdict is decided`,
  t`something disturbed the section`,
  t`the aircraft is needed`,
] as const

interface EndEarlyProps {
  readonly open: Signal<boolean>
  readonly hold: RunningHold
  /** Remaining planned time, [s]; 0 when it is over. */
  readonly leftS: number
  onEnd(reason?: string): void
}

/** Confirms an early end: undecided, or before the time that a rule prescribes. */
function EndEarly({ open, hold, leftS, onEnd }: EndEarlyProps) {
  const other = useSignal('')
  const reason = other.value.trim()
  const decided = isDecided(hold)
  const needsReason = hold.time !== 'until-decided' && leftS > 0
  return (
    <Dialog title={decided ? t`End it early?` : t`End it undecided?`} open={open}>
      {!decided && <p>The data cannot tell yet. Ended now, the record will most likely say undecided.</p>}
      {needsReason && (
        <p>
          {duration(leftS)} of the prescribed {duration(hold.stageLengthS ?? 0)} are left. The reason is
          printed on page 1 of the test report.
        </p>
      )}
      <button type="submit" class="main large">
        Keep holding
      </button>
      {needsReason ? (
        <>
          {usual.slice(decided ? 0 : 1).map((one) => (
            <button key={one} type="submit" onClick={() => onEnd(one)}>
              End: {one}
            </button>
          ))}
          <Field label="Another reason" of={other} maxLength={200} />
          <button type="submit" disabled={reason === ''} onClick={() => onEnd(reason)}>
            End for this reason
          </button>
        </>
      ) : (
        <button type="submit" onClick={() => onEnd()}>
          End and vent
        </button>
      )}
    </Dialog>
  )
}
