import type { Estimate, HoldResult } from '#analysis/model/hold-result.ts'
import type { OpenRecord } from '#dashboard/archive/record.ts'
import { StateWord } from '../parts/state-mark.tsx'
import { TableScroll } from '../parts/table-scroll.tsx'
import { TimeChart } from '../parts/time-chart.tsx'
import { useAnswer } from '../parts/use-answer.ts'
import { leaksOf } from '../parts/verdict-figures.tsx'
import { moment, pressure, pressureDifference } from '../quantity.ts'
import { address } from '../route.ts'
import { verdictWords } from '../words.ts'
import { holdPart, type WireCurves } from './hold-part.ts'

/** Two holds from the same starting point: what the work changed. */
export function Overlay({ before, after }: { before: string; after: string }) {
  const a = useAnswer<OpenRecord>(`/api/records/${encodeURIComponent(before)}`).value
  const b = useAnswer<OpenRecord>(`/api/records/${encodeURIComponent(after)}`).value
  if (a.error || b.error) return <p class="note is-failed">{a.error ?? b.error}</p>
  if (!a.value || !b.value) return <p class="loading">Opening both records…</p>
  const pair = [a.value, b.value] as const
  const names = ['before', 'after'] as const
  const results = pair.map((one) => one.record.result as HoldResult)
  const sections = [...new Set(results.flatMap((one) => one.sections))]
  const parts = sections.map((section) => ({
    section,
    curves: pair.map((one, i) => {
      const curve = one.curves.find((each) => each.section === section) as unknown as WireCurves | undefined
      return curve ? lostSince(holdPart(curve, results[i].seconds)) : { x: [], y: [] }
    }),
    drops: results.map((one) => leaksOf(one).find((leak) => leak.section === section)?.drop_Pa),
  }))
  const measured = parts.filter(
    (one) => one.curves.some((curve) => curve.x.length > 0) || one.drops.some(Boolean),
  )
  const sameHold = results[0].hold === results[1].hold
  const isVoid = results.some((one) => one.verdict === 'void')
  return (
    <div class="stack">
      <h1>Before and after</h1>
      {!sameHold && (
        <p class="note is-undecided">
          These are different holds ({results[0].hold}, {results[1].hold}): the pressures compare, the
          allowances do not.
        </p>
      )}
      {isVoid && (
        <p class="note is-void">
          {results.every((one) => one.verdict === 'void') ? 'Both holds are' : 'One of the two holds is'}{' '}
          void, so the comparison proves nothing: hold again.
        </p>
      )}
      {measured.map(({ section, curves }) => (
        <section key={section} class="panel" aria-label={`Both holds of ${section}`}>
          <TimeChart
            label={`${measured.length > 1 ? `${section}: lost` : 'Lost'} since the start of the hold, compensated`}
            unit={pressure().symbol}
            decimals={pressure().decimals + 1}
            lines={[
              { label: `before: ${before}`, token: '--line-b', width: 2.5, dash: [10, 5] },
              { label: `after: ${after}`, token: '--line-a', width: 2.5 },
            ]}
            follow={() => {
              pressure()
            }}
            view={() => {
              const slope = pressure().slope
              return {
                columns: curves.map(({ x, y }) => ({ x, y: y.map((pa) => pa * slope) })),
                x: [0, Math.max(60, ...curves.map((one) => one.x.at(-1) ?? 0)) * 1.01],
                y: null,
                zeroS: 0,
              }
            }}
          />
        </section>
      ))}
      <section class="panel" aria-label="Figures of both">
        <TableScroll label="Figures side by side">
          <table class="stacks">
            <thead>
              <tr>
                <td />
                <th scope="col">record</th>
                <th scope="col">sealed</th>
                <th scope="col">verdict</th>
                <th scope="col" class="number">
                  leak in the stated hold
                </th>
                <th scope="col" class="number">
                  95 % interval
                </th>
              </tr>
            </thead>
            <tbody>
              {measured.flatMap(({ section, drops }) =>
                pair.map((one, i) => (
                  <tr key={section + names[i]}>
                    <th scope="row">
                      {names[i]}
                      {measured.length > 1 && <span class="soft"> {section}</span>}
                    </th>
                    <td data-label="record">
                      <a href={address('records', one.record.id)}>{one.record.id}</a>
                    </td>
                    <td data-label="sealed">{moment(one.record.sealed_at)}</td>
                    <td data-label="verdict">
                      <StateWord state={results[i].verdict} word={verdictWords[results[i].verdict].word} />
                    </td>
                    <td class="number" data-label="leak in the stated hold">
                      {pressureDifference(drops[i]?.value)}
                    </td>
                    <td class="number" data-label="95 % interval">
                      {drops[i]
                        ? `${pressureDifference(drops[i].low)} to ${pressureDifference(drops[i].high)}`
                        : '–'}
                    </td>
                  </tr>
                )),
              )}
            </tbody>
          </table>
        </TableScroll>
        {measured.map(({ section, drops }) => {
          const said = sameHold && !isVoid ? changeOf(drops[0], drops[1]) : null
          return (
            said && (
              <p key={section}>
                {measured.length > 1 && <strong>{section}: </strong>}
                {said}
              </p>
            )
          )
        })}
      </section>
    </div>
  )
}

/** Compensated pressure less what it was when the hold began, [Pa]. */
function lostSince(curve: WireCurves): { readonly x: number[]; readonly y: number[] } {
  return {
    x: curve.timeS.map((t) => t - curve.timeS[0]),
    y: curve.compensatedPa.map((pa) => pa - curve.leakLinePa[0]),
  }
}

function changeOf(before: Estimate | undefined, after: Estimate | undefined): string | null {
  if (!before || !after) return null
  if (after.high < before.low) return 'The intervals lie apart: it leaks less than before.'
  if (after.low > before.high) return 'The intervals lie apart: it leaks more than before.'
  return 'The intervals overlap: these two holds alone do not show a change. The command compare weighs them together.'
}
