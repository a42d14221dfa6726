import { useSignal } from '@preact/signals'
import { useRef } from 'preact/hooks'
import { isSectionPressure } from '#analysis/model/system.ts'
import { duration } from '#analysis/reasons/figures.ts'
import type { LiveState, RunningHold, Settling } from '#dashboard/api.ts'
import { post } from '../api-client.ts'
import { bench, system, take } from '../live/bench.ts'
import { takeBack } from '../marks/send-mark.ts'
import { toast, toastError } from '../parts/toast.tsx'
import { clock, pressure, twoFigures } from '../quantity.ts'
import { EndEarly } from './end-early.tsx'
import { isProving, ProofStep, StrokeStep } from './proof-step.tsx'
import { SupplyStep } from './supply.tsx'

const steps = {
  'pump-up': { to: 'settle', word: 'At pressure: settle', hint: 'Close the supply, then settle.' },
  settle: { to: 'hold', word: 'Start the hold', hint: 'Hands off: doors shut, nobody touches the wing.' },
  hold: {
    to: 'vent',
    word: 'End the hold and vent',
    hint: 'Open the vent slowly; the gauge must be seen to go to zero.',
  },
  vent: {
    to: 'end',
    word: 'Vented: seal the record',
    hint: 'Keep the gauge on until it stands at zero. Then take out every plug that went in.',
  },
} as const

/** A tap so soon after the one before belongs to it: the next step comes under the same finger, [ms]. */
const oneTapMs = 1000
/** A hold may start so long before its settle time is over without a question, [s]. */
const nearlySettledS = 10

/** The gauge must stand still for so long after the vent before its second zero can be read (analysis/verdict/second-zero.ts), [s]. */
const secondZeroS = 15
/** Share of the test pressure by which it may move meanwhile. */
const stillShare = 0.002

/** `−0.12 psi a minute`. */
function slopeWords(paPerS: number): string {
  const { slope, symbol } = pressure()
  return `${twoFigures(paPerS * 60 * slope)} ${symbol} a minute`
}

/** What the settling waits for, and whether the hold starts without a tap. */
function settlingWords({ ready, nowPaPerS, beforePaPerS, startsInS }: Settling, leftS: number): string {
  if (startsInS !== null) return `Hands off: the hold starts in ${Math.ceil(startsInS)} s without a tap.`
  if (nowPaPerS === null || beforePaPerS === null)
    return 'Gathering readings to see how evenly the pressure runs.'
  if (ready)
    return `The pressure runs evenly, ${slopeWords(nowPaPerS)}. The hold starts after the settle time.`
  const uneven = `Not even yet: ${slopeWords(nowPaPerS)} now, ${slopeWords(beforePaPerS)} shortly before.`
  return leftS > 0
    ? uneven
    : `${uneven} The settle time is over: the hold starts by your tap, or when the pressure runs evenly.`
}

/** What the operator may do now and what he should wait for. */
function nextStep(hold: RunningHold, inStageS: number, suction: boolean, stillS: number) {
  const leftS = Math.max(0, (hold.stageLengthS ?? 0) - inStageS)
  const isDecided = hold.verdict !== null && hold.verdict !== 'undecided'
  if (hold.broken != null && hold.stage !== 'vent')
    return { offered: true, ready: true, asks: false, hint: steps.hold.hint }
  const isOff = hold.verdict === 'void'
  switch (hold.stage) {
    case 'pump-up': {
      const supply = suction ? 'Close the valve to the pump, then settle.' : steps['pump-up'].hint
      const wait = `${suction ? 'Draw down' : 'Pump up'} slowly. The next step comes when the gauge is at pressure.`
      return {
        offered: hold.atPressure !== false,
        ready: true,
        asks: false,
        hint: hold.atPressure === false ? wait : supply,
      }
    }
    case 'settle': {
      const ready = hold.settled?.ready === true && leftS <= nearlySettledS
      const hint = hold.settled ? settlingWords(hold.settled, leftS) : steps.settle.hint
      return { offered: true, ready, asks: !ready, hint }
    }
    case 'hold': {
      const mayVent = isDecided && hold.time === 'until-decided'
      const hint = isOff
        ? 'This hold proves nothing more. Vent it.'
        : mayVent
          ? 'Decided: you may vent now.'
          : isDecided && leftS > 0
            ? `Decided. The prescribed time runs for ${clock(leftS)} more.`
            : isDecided
              ? steps.hold.hint
              : steps.settle.hint
      const ready = isOff || (isDecided && (mayVent || leftS === 0))
      return { offered: true, ready, asks: !ready, hint }
    }
    default: {
      const waits = hold.stage === 'vent' && hold.broken == null && stillS < secondZeroS
      const hint = waits
        ? `Leave the vent open and the gauge on until it stands still for ${secondZeroS} s (${Math.floor(stillS)} s so far): the second zero tells whether the gauge drifted.`
        : steps.vent.hint
      return { offered: hold.stage === 'vent', ready: !waits, asks: false, hint }
    }
  }
}

/** For how long the gauges of a vented hold have not moved, [s]. */
function useStillness(hold: RunningHold): number {
  const anchor = useRef<{ readonly pa: readonly number[]; readonly atS: number } | null>(null)
  const spec = system.value?.holds.find(({ id }) => id === hold.hold)
  const nowS = bench.value?.nowS
  if (hold.stage !== 'vent' || spec === undefined || nowS == null) {
    anchor.current = null
    return 0
  }
  const pa = (system.value?.channels ?? [])
    .filter(({ measures, section }) => isSectionPressure(measures) && spec.sections.includes(section ?? ''))
    .map(({ id }) => bench.value?.newest[id]?.reading ?? 0)
  const band = stillShare * Math.abs(spec.pressurePa)
  if (anchor.current === null || pa.some((one, i) => Math.abs(one - anchor.current!.pa[i]) > band))
    anchor.current = { pa, atS: nowS }
  return nowS - anchor.current.atS
}

/** The one next step in front, giving up beside it. */
export function StageControls({ hold, suction }: { hold: RunningHold; suction: boolean }) {
  const busy = useSignal(false)
  const tappedAtMs = useRef(Number.NEGATIVE_INFINITY)
  const giveUp = useRef<HTMLDialogElement>(null)
  const early = useRef<HTMLDialogElement>(null)
  const mustVent = hold.broken != null && hold.stage !== 'vent'
  const step = hold.stage === 'idle' ? null : steps[mustVent ? 'hold' : hold.stage]
  const inStageS = Math.max(0, (bench.value?.nowS ?? hold.stageStartedS) - hold.stageStartedS)
  const { offered, ready, asks, hint } = nextStep(hold, inStageS, suction, useStillness(hold))
  const leftS = Math.max(0, (hold.stageLengthS ?? 0) - inStageS)
  const isDecided = hold.verdict !== null && hold.verdict !== 'undecided'

  const enter = async (stage: string, reason?: string): Promise<void> => {
    busy.value = true
    tappedAtMs.current = performance.now()
    try {
      const state = await post<LiveState>('/api/hold/stage', { stage, ...(reason && { reason }) })
      take(state)
      const begun = state.marks.findLast(({ kind }) => kind === 'stage')
      if (begun && stage !== 'end') toast(`Marked: ${stage}.`, { undo: () => void takeBack(begun) })
    } catch (error) {
      toastError(error)
    } finally {
      busy.value = false
    }
  }
  const proving = isProving(hold, leftS)
  const word = mustVent
    ? 'I am venting it now'
    : suction && hold.stage === 'pump-up'
      ? 'Drawn down: settle'
      : hold.stage === 'hold' && ready && hold.time === 'until-decided'
        ? 'Decided: vent now'
        : hold.stage === 'vent' && hold.broken != null
          ? 'Vented: end the hold'
          : step?.word

  return (
    <section class="stage-controls" aria-label="Next step">
      {hold.stage === 'settle' && <StrokeStep hold={hold} />}
      {hold.stage === 'hold' && !mustVent && <ProofStep hold={hold} leftS={leftS} />}
      {hold.stage === 'settle' && !suction && <SupplyStep hold={hold} />}
      <div class="row">
        {step && offered && (
          <button
            type="button"
            class={`large ${ready && !proving ? 'main' : ''}`}
            // Not disabled: that would take the focus away, and the next step comes under the same key.
            aria-disabled={busy.value}
            onClick={() => {
              const again = performance.now() - tappedAtMs.current < oneTapMs
              tappedAtMs.current = performance.now()
              if (busy.value || again) return
              if (asks) early.current?.showModal()
              else void enter(step.to)
            }}
          >
            {word}
          </button>
        )}
        {hold.stage !== 'vent' && (
          <button type="button" class="quiet" onClick={() => giveUp.current?.showModal()}>
            Give this hold up
          </button>
        )}
      </div>
      {hint && <p class="soft">{hint}</p>}
      {hold.stage === 'settle' ? (
        <dialog ref={early} aria-labelledby="start-early-title">
          <form method="dialog" class="stack">
            <h2 id="start-early-title">Start the hold early?</h2>
            <p>
              {leftS > 0 &&
                `It has settled for ${duration(inStageS)} of ${duration(hold.stageLengthS ?? 0)}. `}
              {hold.settled?.ready !== true && 'The pressure does not run evenly yet. '}
              The heat of pumping then counts as uncertainty, and the hold takes longer to decide.
            </p>
            <div class="row">
              <button type="submit" class="main large">
                Go on settling
              </button>
              <button
                type="button"
                class="large"
                onClick={() => {
                  early.current?.close()
                  void enter('hold')
                }}
              >
                Start now
              </button>
            </div>
          </form>
        </dialog>
      ) : (
        <EndEarly
          box={early}
          hold={hold}
          isDecided={isDecided}
          leftS={leftS}
          onEnd={(reason) => void enter('vent', reason)}
        />
      )}
      <dialog ref={giveUp} aria-labelledby="give-up-title">
        <form method="dialog" class="stack">
          <h2 id="give-up-title">Give this hold up?</h2>
          <p>
            Vent the section first. What was recorded stays in the recording and the record says that the hold
            was ended.
          </p>
          <div class="row">
            <button type="submit" class="main">
              Go on
            </button>
            <button
              type="button"
              class="danger"
              onClick={() => {
                giveUp.current?.close()
                void enter('end')
              }}
            >
              Give it up
            </button>
          </div>
        </form>
      </dialog>
    </section>
  )
}
