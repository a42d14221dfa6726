import { useSignal } from '@preact/signals'
import { useRef } from 'preact/hooks'
import type { HoldSpec, System } from '#analysis/model/system.ts'
import { duration } from '#analysis/reasons/figures.ts'
import { t } from '#analysis/reasons/language.ts'
import { SupplyLook } from '../hold/proof-step.tsx'
import { TypedPad } from '../hold/typed-pad.tsx'
import { bench, mayOperate, system, tell } from '../live/bench.ts'
import { Button, Check, Field } from '../parts/fields.tsx'
import { isSuction } from '../parts/hold-limits.ts'
import { useTask } from '../parts/use-answer.ts'
import { pressure, pressureDifference, withUnit } from '../quantity.ts'
import { address, go } from '../route.ts'
import { operatorName, witnessName } from '../settings.ts'
import { cautionsFor, isOfGas, refusalFor, sheetFor } from './cautions.ts'
import { PlanView } from './plan-facts.tsx'
import { confirm, rememberedAt } from './remembered.ts'
import { blocksOf, RigProof, SensorsAlive, useStartChecks } from './sensors-alive.tsx'

/** From the choice of the hold to the start of the pump, on one phone screen. */
export function GuidedStart({ hold, retests }: { hold: string | null; retests: string | null }) {
  const known = system.value
  if (!mayOperate.value) return <p class="note">Only the operator starts a hold; this device watches.</p>
  if (known === null) {
    return (
      <p class="note is-undecided">
        The system file has errors, so no hold can be started.{' '}
        <a href={address('setup', 'file')}>Fix it in Setup</a>
      </p>
    )
  }
  const spec = known.holds.find((one) => one.id === hold)
  return spec === undefined ? (
    <HoldChoices system={known} retests={retests} />
  ) : (
    <StartSheet key={spec.id} spec={spec} system={known} retests={retests} />
  )
}

/** Debounce: a second tap this soon belongs to the first, [ms]. */
const oneTapMs = 700

interface Props {
  readonly spec: HoldSpec
  readonly system: System
  readonly retests: string | null
}

function StartSheet({ spec, system: known, retests }: Props) {
  const isConfirmed = useSignal(false)
  const confirmedAtMs = useRef(Number.NEGATIVE_INFINITY)
  const { busy, run } = useTask()
  const state = bench.value!
  const suction = isSuction(spec)
  /** A section that contained fuel may be tested to look for the leak; such a hold does not prove it tight. */
  const isWet = useSignal(false)
  const sheet = sheetFor(spec, known, !isWet.value)
  const cautions = cautionsFor(spec, known)
  const remembered = rememberedAt([...cautions, ...sheet], state)
  const isAsking = !isConfirmed.value && [...cautions, ...sheet].some((one) => !remembered.has(one))
  const checks = useStartChecks(spec.id)
  const refused = refusalFor(spec, known)
  const blocks = refused === null ? blocksOf(checks) : [refused]

  const start = () =>
    run(async () => {
      await tell('/api/hold/start', {
        hold: spec.id,
        operator: operatorName.value.trim() || null,
        witness: witnessName.value.trim() || null,
        stateSheet: sheet.map((one) => {
          const atMs = remembered.get(one)
          return atMs === undefined ? one : t`${one} (as at ${clockTime(atMs)})`
        }),
        dry: !isWet.value,
        retests,
      })
      confirm(spec.id, [...cautions, ...sheet], remembered, state)
      go('hold')
    })

  return (
    <div class="start-sheet">
      <p class="start-head">
        <span>
          <strong>{spec.id}</strong> {spec.sections.join(', ')}: {withUnit(spec.pressurePa, pressure(), 1)}{' '}
          for {duration(spec.holdS)}
          {'dropPa' in spec.allow &&
            (spec.allow.kind === 'rise'
              ? t`, may rise ${pressureDifference(spec.allow.dropPa)}`
              : t`, may drop ${pressureDifference(spec.allow.dropPa)}`)}
          . {retests && t`Retests ${retests}. `}
        </span>
        <a class="button" href={address('hold', 'start')}>
          Other
          <span class="unseen"> hold</span>
        </a>
      </p>
      <SensorsAlive found={checks} system={known} />
      <TypedPad spec={spec} />
      <PlanView hold={spec.id} />
      {spec.rig !== null && <RigProof spec={spec} />}
      <Sentences title="Cautions" word="read" all={cautions} remembered={remembered} />
      <Sentences title="State sheet" word="set" all={sheet} remembered={remembered} />
      <div class="start-folds line">
        {isOfGas(spec, known) && (
          <details open={isWet.value}>
            <summary>Not dry, or the hose stays on?</summary>
            <Check of={isWet}>
              <span>
                Fuel or its vapor is in the section
                {isWet.value &&
                  t`: this hold cannot pass, because rising vapor hides a leak. Purge it, or continue to find a leak.`}
              </span>
            </Check>
            {!suction && <SupplyLook />}
          </details>
        )}
        <Names />
      </div>
      <div class="start-action row">
        <p id="start-waits" class={`small ${blocks.length > 0 ? 'is-failed' : ''}`}>
          {blocks.length > 0
            ? blocks.join(' ')
            : !isAsking && t`Slowly to ${withUnit(spec.pressurePa, pressure(), 1)}. The page calls.`}
        </p>
        <Button
          class="main large"
          disabled={!isAsking && (blocks.length > 0 || busy.value || state.hold !== null)}
          aria-describedby="start-waits"
          onClick={() => {
            if (isAsking) {
              isConfirmed.value = true
              confirmedAtMs.current = performance.now()
            } else if (performance.now() - confirmedAtMs.current > oneTapMs) void start()
          }}
        >
          {isAsking
            ? t`I have read these and they are met`
            : suction
              ? t`Begin the draw-down`
              : t`Begin the pump-up`}
        </Button>
      </div>
    </div>
  )
}

const clockTime = (ms: number): string =>
  new Date(ms).toLocaleTimeString('en-GB', { hour: '2-digit', minute: '2-digit' })

const list = (sentences: readonly string[]) => (
  <ul>
    {sentences.map((one) => (
      <li key={one}>{one}</li>
    ))}
  </ul>
)

interface SentencesProps {
  readonly title: string
  readonly word: string
  readonly all: readonly string[]
  readonly remembered: ReadonlyMap<string, number>
}

/** Sentences confirmed today are folded into one line; new or changed ones are open. */
function Sentences({ title, word, all, remembered }: SentencesProps) {
  const asked = all.filter((one) => !remembered.has(one))
  const kept = all.filter((one) => remembered.has(one))
  const latestMs = Math.max(...kept.map((one) => remembered.get(one)!))
  return (
    <section class="sentences" aria-label={title}>
      {asked.length > 0 && (
        <>
          <h2>{kept.length > 0 ? t`${title}: changed` : title}</h2>
          {list(asked)}
        </>
      )}
      {kept.length > 0 && (
        <details>
          <summary>
            {title}: {kept.length} {word} at {clockTime(latestMs)}
          </summary>
          {list(kept)}
        </details>
      )}
    </section>
  )
}

/** The names on the record: remembered, and changed with one tap. */
function Names() {
  return (
    <details>
      <summary>
        Operator: {operatorName.value || t`who?`}
        {witnessName.value && t`, witness: ${witnessName.value}`}
      </summary>
      <div class="cells">
        <Field label="Operator" of={operatorName} maxLength={80} />
        <Field label="Witness" of={witnessName} maxLength={80} />
      </div>
    </details>
  )
}

/** The holds of the system file, one tap each. */
function HoldChoices({ system, retests }: { system: System; retests: string | null }) {
  return (
    <ul class="hold-choices stack tight" aria-label="Holds of the system file">
      {system.holds.map((one) => (
        <li key={one.id}>
          <a class="button" href={address('hold', 'start', one.id, ...(retests ? [retests] : []))}>
            <strong>{one.id}</strong>
            <span class="soft">
              {one.sections.join(', ')}, {withUnit(one.pressurePa, pressure(), 1)} for {duration(one.holdS)}
            </span>
          </a>
        </li>
      ))}
    </ul>
  )
}
