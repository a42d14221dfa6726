import type { Estimate, HoldResult, SectionLeak } from '#analysis/model/hold-result.ts'
import { duration } from '#analysis/reasons/figures.ts'
import { isSuctionHold } from '../live/is-suction-hold.ts'
import { conditions, decimalsBeside, digits, leakDecimals, pressureDifference } from '../quantity.ts'
import { sideOf } from './side-of.ts'
import { StateWord } from './state-mark.tsx'
import { TableScroll } from './table-scroll.tsx'
import { Term } from './term.tsx'

export const leaksOf = (result: HoldResult): readonly SectionLeak[] =>
  result.leak === null ? [] : Array.isArray(result.leak) ? result.leak : [result.leak as SectionLeak]

/** Three figures of the largest number of a row, or as many more as tell its bounds from the allowance. */
function rateText(value: number, { low, high }: Estimate, allowed: number | undefined): string {
  const largest = Math.max(...[low, high, allowed ?? 0].map(Math.abs), 1e-6)
  const usual = Math.max(0, Math.min(6, 2 - Math.floor(Math.log10(largest))))
  return digits(value, allowed === undefined ? usual : decimalsBeside(allowed, [low, high], usual))
}

/** Of several sections, each with its own side of the allowance. */
function Side({ of, allowance }: { of: Estimate; allowance: number }) {
  const { state, word } = sideOf(of, allowance)
  return (
    <>
      {' '}
      <StateWord state={state} word={state === 'undecided' ? 'cannot tell' : word} />
    </>
  )
}

/** Leak with its interval beside what was allowed, as a small table. */
export function VerdictFigures({ result }: { result: HoldResult }) {
  const leaks = leaksOf(result)
  const suction = isSuctionHold(result.hold)
  const way = suction ? 'rise' : 'drop'
  const rate = leaks.some((one) => one.scc_per_min)
    ? 'scc'
    : leaks.some((one) => one.mL_per_min)
      ? 'mL'
      : null
  const reference = leaks.find((one) => one.scc_per_min)?.scc_per_min?.reference
  const rateOf = (one: SectionLeak) => (rate === 'scc' ? one.scc_per_min : one.mL_per_min)
  const dropText = ({ drop_Pa }: SectionLeak, pa: number): string =>
    pressureDifference(pa, leakDecimals(drop_Pa, result.allowance.drop_Pa))
  const allowedRate = rate === 'scc' ? result.allowance.scc_per_min : result.allowance.mL_per_min
  return (
    <TableScroll label="Figures of the verdict">
      <table class="figures-table stacks">
        <thead>
          <tr>
            <th scope="col">in the stated hold</th>
            <th scope="col" class="number">
              leak
            </th>
            <th scope="col" class="number">
              95 % interval
            </th>
            <th scope="col" class="number">
              allowed
            </th>
          </tr>
        </thead>
        <tbody>
          {leaks.map((one) => (
            <>
              <tr>
                <th scope="row">
                  {one.section}, {way}
                  {leaks.length > 1 && result.verdict !== 'void' && (
                    <Side of={one.drop_Pa} allowance={result.allowance.drop_Pa} />
                  )}
                </th>
                <td class="number" data-label="leak">
                  {dropText(one, one.drop_Pa.value)}
                </td>
                <td class="number" data-label="95 % interval">
                  {dropText(one, one.drop_Pa.low).replace(/ [^ ]+$/, '')} to {dropText(one, one.drop_Pa.high)}
                </td>
                <td class="number" data-label="allowed">
                  {dropText(one, result.allowance.drop_Pa)}
                </td>
              </tr>
              {rate !== null && rateOf(one) && (
                <tr>
                  <th scope="row">
                    {one.section}, {rate === 'scc' ? 'scc/min' : 'mL/min'}
                  </th>
                  <td class="number" data-label="leak">
                    {rateText(rateOf(one)!.value, rateOf(one)!, allowedRate)}
                  </td>
                  <td class="number" data-label="95 % interval">
                    {rateText(rateOf(one)!.low, rateOf(one)!, allowedRate)} to{' '}
                    {rateText(rateOf(one)!.high, rateOf(one)!, allowedRate)}
                  </td>
                  <td class="number" data-label="allowed">
                    {allowedRate === undefined ? '–' : rateText(allowedRate, rateOf(one)!, allowedRate)}
                  </td>
                </tr>
              )}
            </>
          ))}
          {result.raw_drop_Pa !== null && (
            <tr>
              <th scope="row">
                as read over {duration(result.seconds)}, not compensated
                <Term of="compensated" />
              </th>
              <td class="number" data-label={suction ? 'rise' : 'fall'}>
                {pressureDifference(suction ? -result.raw_drop_Pa : result.raw_drop_Pa)}
              </td>
              <td />
              <td />
            </tr>
          )}
        </tbody>
      </table>
      {reference && (
        <p class="small soft">
          scc/min at {conditions(reference)}.
          <Term of="scc/min" />
        </p>
      )}
    </TableScroll>
  )
}
