import { useSignal } from '@preact/signals'
import type { Check } from '#analysis/model/system.ts'
import { provenWords } from '#analysis/reasons/bench-words.ts'
import { t } from '#analysis/reasons/language.ts'
import type { RunningHold } from '#dashboard/api.ts'
import { bench, marks, specOf, system } from '../live/bench.ts'
import { sendMark } from '../marks/outbox.ts'
import { Button, Field } from '../parts/fields.tsx'
import { clock } from '../quantity.ts'
import { isOfGas } from '../start/cautions.ts'

/** How long the known leak is open, and how long the pressure is watched after it, [s]. */
const openForS = 120
const watchForS = 20

/** The check that the page guides the operator through: a known leak rather than a known volume. */
function checkOf(hold: RunningHold): Check | null {
  const spec = specOf(hold.hold)
  const own = (system.value?.checks ?? []).filter(({ section }) => spec?.sections.includes(section))
  return own.find(({ kind }) => kind === 'known-leak') ?? own[0] ?? null
}

/** When the check was last opened and shut in this hold, [s]; null: never. */
function movesOf(check: Check, hold: RunningHold): { openS: number | null; shutS: number | null } {
  const own = marks.value.filter(
    ({ kind, id, timeS }) => kind === 'check' && id === check.id && timeS >= hold.stageStartedS,
  )
  const openS = own.findLast(({ text }) => text === 'opened')?.timeS ?? null
  const shutS = own.findLast(({ text }) => text === 'shut')?.timeS ?? null
  return { openS, shutS: shutS !== null && openS !== null && shutS > openS ? shutS : null }
}

/** Whether the check is the next step: the hold's time is over and the check is not complete. */
export function isProving(hold: RunningHold, leftS: number): boolean {
  const check = hold.stage === 'hold' && hold.verdict !== 'void' ? checkOf(hold) : null
  if (check === null) return false
  const { openS, shutS } = movesOf(check, hold)
  const nowS = bench.value?.nowS ?? hold.stageStartedS
  return openS === null ? leftS === 0 : shutS === null || nowS - shutS < watchForS
}

/** Opens the known leak or pushes the known volume in, counts down, and reports the gauge's response. */
export function ProofStep({ hold, leftS }: { hold: RunningHold; leftS: number }) {
  const check = checkOf(hold)
  if (check === null || hold.verdict === 'void') return null
  const { openS, shutS } = movesOf(check, hold)
  const nowS = bench.value?.nowS ?? hold.stageStartedS
  const leak = check.kind === 'known-leak'
  const mark = (open: boolean, words: string) =>
    void sendMark({ kind: 'check', id: check.id, fields: { open } }, words)
  const [opening, shutting] = leak
    ? [t`Open the known leak`, t`Shut the known leak`]
    : [t`Push in the known volume`, t`Draw back the known volume`]
  if (openS === null) {
    if (leftS > 0) return null
    return (
      <div class="proof-step stack">
        <p>
          <strong>Prove the bench.</strong> {leak ? t`Open the known leak` : t`Push the known volume in`} for
          two minutes: the gauge must see it.
        </p>
        <Button class="large main" onClick={() => mark(true, t`${check.id} opened`)}>
          {opening} {check.id}
        </Button>
      </div>
    )
  }
  if (shutS === null) {
    const openLeftS = Math.max(0, openForS - (nowS - openS))
    const over = openLeftS === 0
    return (
      <div class="proof-step stack">
        <p class="proof-clock" role="timer">
          {clock(openLeftS)}
        </p>
        <Button class={`large ${over ? 'main' : ''}`} onClick={() => mark(false, t`${check.id} shut`)}>
          {shutting} {check.id}
        </Button>
        {over && <p class="soft">The time is over: {leak ? t`shut it` : t`draw it back`}.</p>}
      </div>
    )
  }
  const watchLeftS = watchForS - (nowS - shutS)
  return (
    <p class="proof-step" aria-live="polite">
      {watchLeftS > 0
        ? t`Hands off for ${Math.ceil(watchLeftS)} s more: the gauge is watched.`
        : t`Bench: ${provenWords(hold.proof)}.`}
    </p>
  )
}

/** Measures the stiffness of a full line before its hold: a known volume is pushed in while it settles. */
export function StrokeStep({ hold }: { hold: RunningHold }) {
  const amount = useSignal('0.5')
  const known = system.value
  const spec = specOf(hold.hold)
  if (!known || !spec || isOfGas(spec, known)) return null
  const made = marks.value.filter(({ kind, timeS }) => kind === 'stroke' && timeS >= hold.stageStartedS)
  const mL = Number(amount.value)
  return (
    <div class="proof-step stack">
      <p>
        <strong>Push in a known volume.</strong>{' '}
        {made.length > 0
          ? t`It is marked; a second one narrows the result.`
          : t`The gauge then shows how stiff the full line is. Without it few leaks are decided.`}
      </p>
      <div class="row">
        <Field label="Pushed in, mL" of={amount} inputMode="decimal" />
        <Button
          class={`large ${made.length > 0 ? '' : 'main'}`}
          disabled={!(mL > 0)}
          onClick={() => sendMark({ kind: 'stroke', fields: { volume_mL: mL } }, t`${mL} mL pushed in`)}
        >
          Mark: {amount.value} mL pushed in
        </Button>
      </div>
    </div>
  )
}

/** Shortest look at the supply that counts, [s]. */
const lookForS = 60

/** Removing the hose proves that the supply feeds nothing in. */
export function SupplyStep({ hold }: { hold: RunningHold }) {
  const done = marks.value.some(
    ({ kind, text, timeS }) => kind === 'supply' && text === 'supply off' && timeS >= (hold.pumpUpS ?? 0),
  )
  return done ? (
    <p class="soft">Marked: the hose is off and the port is plugged.</p>
  ) : (
    <Button onClick={() => sendMark({ kind: 'supply', fields: { name: 'off' } }, t`hose off, port plugged`)}>
      Hose off, port plugged
    </Button>
  )
}

/** The alternative proof, before the pump-up: the section is closed without pressure, the supply on, its cock shut. */
export function SupplyLook() {
  const look = marks.value.findLast(({ kind, text }) => kind === 'supply' && text === 'supply look')
  const leftS = look === undefined ? null : Math.max(0, lookForS - ((bench.value?.nowS ?? 0) - look.timeS))
  return (
    <div class="stack tight">
      <p>
        Where the hose stays on, prove its cock: close the section without pressure, shut the cock, then turn
        the supply on. Gas that seeps through raises the gauge within a minute.
      </p>
      {leftS ? (
        <p role="timer">Hands off for {clock(leftS)} more.</p>
      ) : (
        <Button onClick={() => sendMark({ kind: 'supply', fields: { name: 'look' } }, t`supply look begun`)}>
          {leftS === 0 ? t`Look again` : t`Supply is on, cock is shut: look`}
        </Button>
      )}
      {leftS === 0 && (
        <p class="soft">The look is complete. Begin the pump-up; the result shows its outcome.</p>
      )}
    </div>
  )
}
