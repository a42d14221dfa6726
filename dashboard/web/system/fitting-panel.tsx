import { useEffect, useRef } from 'preact/hooks'
import type { HuntResult } from '#analysis/model/hunt.ts'
import type { Ledger } from '#analysis/model/ledger.ts'
import { isoTime } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { percentOf } from '#analysis/reasons/figures.ts'
import { t } from '#analysis/reasons/language.ts'
import type { RecordSummary } from '#dashboard/archive/record.ts'
import { mayOperate } from '../live/bench.ts'
import { MarkList } from '../marks/mark-list.tsx'
import { FittingTools, ValveTools } from '../marks/part-tools.tsx'
import { StateWord } from '../parts/state-mark.tsx'
import { useAnswer } from '../parts/use-answer.ts'
import { digits, moment } from '../quantity.ts'
import { address } from '../route.ts'
import { kindWords, proofWords, verdictWords } from '../words.ts'

const when = (ns: string): string => moment(isoTime(ns))

interface Props {
  readonly id: string
  readonly system: System
  readonly ledger: Ledger | null
  readonly hunt: HuntResult | null
}

/** Details of one fitting: proof, work, the holds of its section, and its probability in the hunt. */
export function FittingPanel({ id, system, ledger, hunt }: Props) {
  const box = useRef<HTMLElement>(null)
  useEffect(() => {
    // The drawing fills a phone: the panel would open out of sight below it.
    box.current?.scrollIntoView({ block: 'nearest' })
  }, [])
  const fitting = system.fittings.find((one) => one.id === id)
  const records = useAnswer<readonly RecordSummary[]>(
    fitting ? `/api/records?section=${encodeURIComponent(fitting.section)}` : null,
  )
  if (!fitting) return <p class="note is-undecided">The system file has no fitting {id}.</p>
  const entry = ledger?.fittings.find((one) => one.id === id)
  const suspect = hunt?.fittings.find((one) => one.id === id)
  const state = entry?.proof.state ?? 'never-held'
  return (
    <section ref={box} class="panel stack fitting-panel" aria-label={t`Fitting ${id}`}>
      <header class="panel-head">
        <h2>
          {id} <span class="unit">{fitting.name}</span>
        </h2>
        <a
          href={address('system')}
          // Return the focus to the fitting, since this link disappears.
          onClick={() => document.querySelector<SVGElement>('.fitting.is-picked')?.focus()}
        >
          Close
        </a>
      </header>
      <p class="row">
        <StateWord state={state} word={proofWords[state]} /> {entry?.proof.why}
      </p>
      <dl class="facts">
        <dt>kind</dt>
        <dd>
          {kindWords[fitting.kind]} {fitting.size}
          {fitting.material && `, ${fitting.material}`}
        </dd>
        <dt>section</dt>
        <dd>{fitting.section}</dd>
        {fitting.torqueNm && (
          <>
            <dt>torque</dt>
            <dd>
              {fitting.torqueNm[0] === fitting.torqueNm[1]
                ? digits(fitting.torqueNm[0], 1)
                : t`${digits(fitting.torqueNm[0], 1)} to ${digits(fitting.torqueNm[1], 1)}`}{' '}
              N·m
            </dd>
          </>
        )}
        {entry?.proof.record && (
          <>
            <dt>{state === 'proven' ? t`proof` : t`record`}</dt>
            <dd>
              <a href={address('records', entry.proof.record)}>{entry.proof.record}</a>
              {entry.proof.since_ns && `, ${when(entry.proof.since_ns)}`}
            </dd>
          </>
        )}
        {entry?.wet && (
          <>
            <dt>wet proof</dt>
            <dd>
              {proofWords[entry.wet.state]}. {entry.wet.why}
            </dd>
          </>
        )}
        {entry?.last_work && (
          <>
            <dt>last work</dt>
            <dd>
              {entry.last_work.action} {entry.last_work.on !== id && t`on ${entry.last_work.on}`},{' '}
              {when(entry.last_work.time_ns)}
            </dd>
          </>
        )}
        {suspect && (
          <>
            <dt>leaks now</dt>
            <dd>{percentOf(suspect.leaking)}</dd>
          </>
        )}
      </dl>
      {mayOperate.value && (
        <details open class="bench-tools">
          <summary>Mark work, a look or a plug</summary>
          <FittingTools fitting={fitting} />
          <ValveTools valves={system.valves.filter(({ between }) => between.includes(fitting.section))} />
          <MarkList id={id} />
        </details>
      )}
      {suspect && suspect.leaking >= 0.05 && <p class="note is-undecided">{suspect.advice}</p>}
      {records.value.error && <p class="note is-undecided">{records.value.error}</p>}
      {records.value.value && records.value.value.length > 0 && (
        <>
          <h3>On record for {fitting.section}</h3>
          <ul class="history">
            {records.value.value.slice(0, 8).map((one) => (
              <li key={one.id}>
                <a href={address('records', one.id)}>{one.id}</a>{' '}
                <span class="soft">{moment(one.sealed_at)}</span>{' '}
                {one.verdict && <StateWord state={one.verdict} word={verdictWords[one.verdict].word} />}
              </li>
            ))}
          </ul>
        </>
      )}
    </section>
  )
}
