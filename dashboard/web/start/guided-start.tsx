import { useSignal } from '@preact/signals'
import type { ComponentChildren } from 'preact'
import { duration } from '#analysis/reasons/figures.ts'
import type { LiveState } from '#dashboard/api.ts'
import { post } from '../api-client.ts'
import { inUnits } from '../in-units.ts'
import { bench, mayOperate, system, take } from '../live/bench.ts'
import { toastError } from '../parts/toast.tsx'
import { pressure, pressureDifference, withUnit } from '../quantity.ts'
import { address, go } from '../route.ts'
import { isSuction } from '../suction.ts'
import { cautionsFor, refusalFor, sheetFor } from './cautions.ts'
import { PlanView } from './plan-view.tsx'
import { RigProof } from './rig-proof.tsx'
import { blocksOf, SensorsAlive, useStartChecks } from './sensors-alive.tsx'

function Step(props: { n: number; title: string; done: boolean; children: ComponentChildren }) {
  return (
    <li class={`panel step ${props.done ? 'is-done' : ''}`}>
      <span class="step-number" aria-hidden="true">
        {props.done ? '✓' : props.n}
      </span>
      <div class="stack tight">
        <h2>
          {props.title}
          {props.done && <span class="unseen"> (done)</span>}
        </h2>
        {props.children}
      </div>
    </li>
  )
}

/** From choosing what to pressurize to the moment the pump may run: everything in one column, in the order of work. */
export function GuidedStart({ hold, retests }: { hold: string | null; retests: string | null }) {
  const checked = useSignal<readonly string[]>([])
  const cautioned = useSignal(false)
  const operator = useSignal('')
  const witness = useSignal('')
  const busy = useSignal(false)
  const known = system.value
  const checks = useStartChecks(hold ?? '')
  if (!mayOperate.value) return <p class="note">Only the operator starts a hold; this device watches.</p>
  if (known === null) {
    return (
      <p class="note is-undecided">
        The system file has errors, so no hold can be started.{' '}
        <a href={address('setup', 'file')}>Mend it in Setup</a>
      </p>
    )
  }
  const spec = known.holds.find((one) => one.id === hold) ?? null
  const choose = (
    <Step n={1} title="What is held?" done={spec !== null}>
      <div class="hold-choices" role="radiogroup" aria-label="Holds of the system file">
        {known.holds.map((one) => (
          <label key={one.id} class={one.id === hold ? 'is-picked' : ''}>
            <input
              type="radio"
              name="which-hold"
              checked={one.id === hold}
              onChange={() => {
                checked.value = []
                cautioned.value = false
                go('hold', 'start', one.id, ...(retests ? [retests] : []))
              }}
            />
            <span class="stack-inline">
              <strong>{one.id}</strong>
              <span class="soft">
                {one.sections.join(', ')} · {withUnit(one.pressurePa, pressure(), 2)} for{' '}
                {duration(one.holdS)} ·{' '}
                {one.allow.kind === 'drop' || one.allow.kind === 'rise'
                  ? `may ${one.allow.kind} ${pressureDifference(one.allow.dropPa)}`
                  : 'leak rate allowed as the file says'}
                {one.allowSource && ` (${one.allowSource})`}
              </span>
            </span>
          </label>
        ))}
      </div>
    </Step>
  )
  if (spec === null) return <ol class="steps">{choose}</ol>

  const suction = isSuction(spec)
  const sheet = sheetFor(spec, known)
  const refused = refusalFor(spec, known)
  const allChecked = sheet.every((one) => checked.value.includes(one))
  const blocks = blocksOf(checks)
  const waits = [
    refused ? 'correct the system file: this hold is not planned' : '',
    cautioned.value ? '' : 'read the cautions',
    allChecked ? '' : 'check the state sheet',
  ].filter((one) => one !== '')

  const start = async (): Promise<void> => {
    busy.value = true
    try {
      take(
        await post<LiveState>('/api/hold/start', {
          hold: spec.id,
          operator: operator.value.trim() || null,
          witness: witness.value.trim() || null,
          stateSheet: sheet.filter((one) => checked.value.includes(one)),
          retests,
        }),
      )
      go('hold')
    } catch (error) {
      toastError(error)
    } finally {
      busy.value = false
    }
  }

  return (
    <ol class="steps">
      {choose}
      <Step n={2} title="Cautions" done={cautioned.value}>
        {refused && <p class="note is-fail">{refused}</p>}
        <ul class="cautions">
          {cautionsFor(spec, known).map((one) => (
            <li key={one}>{one}</li>
          ))}
        </ul>
        <label class="check">
          <input
            type="checkbox"
            checked={cautioned.value}
            onChange={(event) => {
              cautioned.value = event.currentTarget.checked
            }}
          />
          Read, and so it is at this bench
        </label>
      </Step>
      <Step n={3} title="State sheet" done={allChecked}>
        {sheet.map((one) => (
          <label key={one} class="check">
            <input
              type="checkbox"
              checked={checked.value.includes(one)}
              onChange={(event) => {
                checked.value = event.currentTarget.checked
                  ? [...checked.value, one]
                  : checked.value.filter((other) => other !== one)
              }}
            />
            {one}
          </label>
        ))}
      </Step>
      <Step n={4} title="Rig" done={false}>
        <RigProof spec={spec} />
      </Step>
      <Step n={5} title="Sensors" done={checks?.every(({ state }) => state === 'ready') === true}>
        <SensorsAlive found={checks} system={known} />
      </Step>
      <Step n={6} title="What this hold can decide" done={false}>
        <PlanView hold={spec.id} />
      </Step>
      <Step n={7} title={suction ? 'Draw down' : 'Pump up'} done={false}>
        <div class="names">
          <label class="field">
            <span>Operator (on the record)</span>
            <input
              type="text"
              autocomplete="off"
              value={operator.value}
              onInput={(event) => {
                operator.value = event.currentTarget.value
              }}
            />
          </label>
          <label class="field">
            <span>Witness (optional)</span>
            <input
              type="text"
              autocomplete="off"
              value={witness.value}
              onInput={(event) => {
                witness.value = event.currentTarget.value
              }}
            />
          </label>
        </div>
        <p>
          {suction ? 'Draw down' : 'Pump'} slowly to the line at {withUnit(spec.pressurePa, pressure(), 2)},
          close {suction ? 'the valve to the pump' : 'the supply'}, then settle for {duration(spec.settleS)}.
          The page calls out when to stop.
        </p>
        {retests && <p class="soft">Retests {retests}.</p>}
        <div class="row">
          <button
            type="button"
            class="main large"
            disabled={waits.length > 0 || blocks.length > 0 || busy.value || bench.value?.hold !== null}
            aria-describedby="start-waits"
            onClick={() => void start()}
          >
            {suction ? 'Begin the draw-down' : 'Begin the pump-up'}
          </button>
          <a class="button quiet" href={address('hold')}>
            Not now
          </a>
        </div>
        <p id="start-waits" class="soft">
          {waits.length > 0 && `Still to do: ${waits.join(', ')}.`}
          {blocks.map((one) => (
            <span key={one} class="note is-fail">
              {inUnits(one)}
            </span>
          ))}
        </p>
      </Step>
    </ol>
  )
}
