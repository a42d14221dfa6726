import { useMemo } from 'preact/hooks'
import { isSectionPressure } from '#analysis/model/system.ts'
import { duration } from '#analysis/reasons/figures.ts'
import { t } from '#analysis/reasons/language.ts'
import type { LeakLook, RunningHold } from '#dashboard/api.ts'
import { bench, channelsOf, isLive, isSilent, quietFor } from '../live/bench.ts'
import { Reasons } from '../parts/facts.tsx'
import { sideOf } from '../parts/hold-limits.ts'
import { StateMark, StateWord } from '../parts/state-mark.tsx'
import { Term } from '../parts/term.tsx'
import { leakDecimals, pressureDifference } from '../quantity.ts'
import { verdictWords } from '../words.ts'
import { DecisionPicture } from './decision-picture.tsx'

function headline(hold: RunningHold): { words: string; state: RunningHold['verdict'] } {
  if (hold.lost) return { words: t`Pressure lost: no verdict`, state: 'fail' }
  if (hold.broken) return { words: t`Vent now: this hold proves nothing more`, state: 'fail' }
  const decided = hold.verdict !== null && hold.verdict !== 'undecided'
  if (decided) return { words: verdictWords[hold.verdict!].word, state: hold.verdict }
  if (hold.stage === 'vent') return { words: t`Venting: keep the gauge connected`, state: null }
  if (hold.decidesInS !== null) {
    return hold.decidesInS < 5
      ? { words: t`Decides any moment`, state: null }
      : { words: t`Decides in about ${duration(hold.decidesInS)}`, state: null }
  }
  return {
    words: hold.looks.length === 0 ? t`Gathering the first readings` : t`Cannot tell yet`,
    state: null,
  }
}

/** The hold continues without the readings of a gauge, or without recording them. */
const isDoubtful = (sections: readonly string[]): boolean =>
  bench.value!.alarms.some((one) => one.code === 'disk-full') ||
  sections.some((section) => channelsOf(section, isSectionPressure).some((one) => quietFor(one.id) !== null))

interface Props {
  readonly hold: RunningHold
  readonly lengthS: number | null
  /** Measured sections of the hold. */
  readonly sections: readonly string[]
}

/** The leak of each section, its uncertainty and the expected time of the decision. */
export function DecisionPanel({ hold, lengthS, sections }: Props) {
  const { words, state: decided } = headline(hold)
  const isOff = hold.lost != null || hold.broken != null
  const old = !isOff && hold.verdict !== 'void' && (!isLive.value || isSilent.value || isDoubtful(sections))
  // A decision from before the readings stopped does not apply now, so it must not look like a verdict.
  const state = old ? null : decided
  const each = sections.length > 1 ? sections.filter((one) => hold.looks.at(-1)?.sections?.[one]) : []
  return (
    <section
      class={`panel decision-panel stack tight ${state ? `is-${state} is-decided` : ''}`}
      aria-label="Decision"
    >
      <p class="headline row" role="status">
        {state && <StateMark state={state} />}
        {old ? t`Last known: ${words.charAt(0).toLowerCase()}${words.slice(1)}` : words}
      </p>
      {state && !isOff && (
        <p class="soft small">Not sealed yet: what counts is the record, after the vent.</p>
      )}
      {isOff ? (
        hold.broken && <p>{hold.broken}.</p>
      ) : each.length > 0 ? (
        each.map((one) => <SectionDecision key={one} of={one} hold={hold} old={old} lengthS={lengthS} />)
      ) : (
        <SectionDecision of={null} among={sections.length > 1} hold={hold} old={old} lengthS={lengthS} />
      )}
      {!isOff && hold.reasons.length > 0 && <Reasons of={hold.reasons} />}
    </section>
  )
}

/** An interval wider than this many allowances is uninformative: its figures would only look exact. */
const MOST_ALLOWANCES = 20
const isWide = ({ dropPa: { low, high } }: LeakLook, allowancePa: number): boolean =>
  // An unknown bound arrives as null in JSON.
  !(typeof low === 'number' && typeof high === 'number' && high - low <= MOST_ALLOWANCES * allowancePa)

interface SectionProps {
  /** Null: the hold as a whole. */
  readonly of: string | null
  /** The worst of several sections is shown. */
  readonly among?: boolean
  readonly hold: RunningHold
  /** The estimate is out of date. */
  readonly old: boolean
  readonly lengthS: number | null
}

const looksAt = (section: string, looks: readonly LeakLook[]): readonly LeakLook[] =>
  looks.flatMap(({ atS, sections }) => {
    const dropPa = sections?.[section]
    return dropPa ? [{ atS, dropPa }] : []
  })

function SectionDecision({ of, among, hold, old, lengthS }: SectionProps) {
  const looks = useMemo(() => (of === null ? hold.looks : looksAt(of, hold.looks)), [of, hold.looks])
  const last = looks.at(-1)
  const wide = last !== undefined && isWide(last, hold.allowanceDropPa)
  const decimals = last && leakDecimals(last.dropPa, hold.allowanceDropPa)
  const text = (pa: number): string => pressureDifference(pa, decimals)
  const interval = ({ low, high }: LeakLook['dropPa']): string =>
    t`${text(low).replace(/ [^ ]+$/, '')} to ${text(high)}`
  const side =
    of === null || old || !last || hold.verdict === 'void' ? null : sideOf(last.dropPa, hold.allowanceDropPa)
  return (
    <div class="section-decision">
      {of !== null && (
        <h2 class="section-side line">
          {of} {side && <StateWord state={side.state} word={side.word} />}
        </h2>
      )}
      {among && <p class="soft small">The section that may leak most.</p>}
      <DecisionPicture
        looks={looks}
        allowanceDropPa={hold.allowanceDropPa}
        lengthS={lengthS}
        verdict={
          old ? null : of === null ? hold.verdict : side && side.state !== 'undecided' ? side.state : null
        }
        decidesInS={old || (side && side.state !== 'undecided') ? null : hold.decidesInS}
      />
      {last && (
        <dl class="estimate-line line">
          {(
            [
              [t`Leak`, wide ? '–' : text(last.dropPa.value), null],
              [
                t`95 % interval`,
                wide ? t`still too wide` : interval(last.dropPa),
                <Term of="95 % interval" key="term" />,
              ],
              [t`Allowed`, text(hold.allowanceDropPa), <Term of="allowance" key="term" />],
            ] as const
          ).map(([what, words, term]) => (
            <div key={what}>
              <dt class="small soft">
                {what}
                {term}
              </dt>
              <dd>{words}</dd>
            </div>
          ))}
        </dl>
      )}
    </div>
  )
}
