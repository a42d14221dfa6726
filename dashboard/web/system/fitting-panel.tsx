import { useEffect, useRef } from 'preact/hooks'
import type { HuntResult } from '#analysis/hunt/hunt.ts'
import type { Ledger } from '#analysis/hunt/ledger.ts'
import { isoTime } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { percentOf } from '#analysis/reasons/figures.ts'
import { t } from '#analysis/reasons/language.ts'
import type { RecordSummary } from '#dashboard/archive/record.ts'
import { mayOperate } from '../live/bench.ts'
import { MarkList, PartTools, ValveTools } from '../marks/part-tools.tsx'
import { Facts, Pending } from '../parts/facts.tsx'
import { StateWord } from '../parts/state-mark.tsx'
import { useAnswer } from '../parts/use-answer.ts'
import { digits, moment } from '../quantity.ts'
import { address } from '../route.ts'
import { kindWords, proofWords } from '../words.ts'

const when = (ns: string): string => moment(isoTime(ns))

const rangeWords = ([low, high]: readonly [number, number]): string =>
  low === high ? t`${digits(low, 1)} N·m` : t`${digits(low, 1)} to ${digits(high, 1)} N·m`

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
  ).value
  if (!fitting) return <p class="note is-undecided">The system file has no fitting {id}.</p>
  const entry = ledger?.fittings.find((one) => one.id === id)
  const suspect = hunt?.fittings.find((one) => one.id === id)
  const work = entry?.last_work
  const state = entry?.proof.state ?? 'never-held'
  return (
    <section ref={box} class="panel stack fitting-panel" aria-label={t`Fitting ${id}`}>
      <header class="panel-head line">
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
        <StateWord state={state} /> {entry?.proof.why}
      </p>
      <Facts
        of={[
          [
            t`kind`,
            [`${kindWords[fitting.kind]} ${fitting.size}`, fitting.material].filter(Boolean).join(', '),
          ],
          [t`section`, fitting.section],
          fitting.torqueNm && [t`torque`, rangeWords(fitting.torqueNm)],
          entry?.proof.record && [
            state === 'proven' ? t`proof` : t`record`,
            <>
              <a href={address('records', entry.proof.record)}>{entry.proof.record}</a>
              {entry.proof.since_ns && `, ${when(entry.proof.since_ns)}`}
            </>,
          ],
          entry?.wet && [t`wet proof`, `${proofWords[entry.wet.state]}. ${entry.wet.why}`],
          work && [
            t`last work`,
            `${work.action} ${work.on === id ? '' : t`on ${work.on}`}, ${when(work.time_ns)}`,
          ],
          suspect && [t`leaks now`, percentOf(suspect.leaking)],
        ]}
      />
      {mayOperate.value && (
        <details open class="bench-tools">
          <summary>Mark work, a look or a plug</summary>
          <PartTools id={id} torqueNm={fitting.torqueNm} />
          <ValveTools valves={system.valves.filter(({ between }) => between.includes(fitting.section))} />
          <MarkList id={id} />
        </details>
      )}
      {suspect && suspect.leaking >= 0.05 && <p class="note is-undecided">{suspect.advice}</p>}
      <Pending of={records} />
      {records.value && records.value.length > 0 && (
        <>
          <h3>On record for {fitting.section}</h3>
          <ul class="stack tight">
            {records.value.slice(0, 8).map((one) => (
              <li key={one.id}>
                <a href={address('records', one.id)}>{one.id}</a>{' '}
                <span class="soft">{moment(one.sealed_at)}</span>{' '}
                {one.verdict && <StateWord state={one.verdict} />}
              </li>
            ))}
          </ul>
        </>
      )}
    </section>
  )
}
