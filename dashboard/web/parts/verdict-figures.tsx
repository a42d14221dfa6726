import type { ComponentChildren } from 'preact'
import { type Estimate, type HoldResult, leaksOf } from '#analysis/model/hold-result.ts'
import { duration } from '#analysis/reasons/figures.ts'
import { t } from '#analysis/reasons/language.ts'
import { isSuctionHold } from '../live/bench.ts'
import { conditions, decimalsBeside, digits, leakDecimals, pressureDifference } from '../quantity.ts'
import { sideOf } from './hold-limits.ts'
import { StateWord } from './state-mark.tsx'
import { type Column, Table, TableScroll } from './table-scroll.tsx'
import { Term } from './term.tsx'

/** Three significant figures of the largest number of a row, or more if its bounds would read like the allowance. */
function rateDecimals({ low, high }: Estimate, allowed: number | undefined): number {
  const largest = Math.max(...[low, high, allowed ?? 0].map(Math.abs), 1e-6)
  const usual = Math.max(0, Math.min(6, 2 - Math.floor(Math.log10(largest))))
  return allowed === undefined ? usual : decimalsBeside(allowed, [low, high], usual)
}

/** Table of the leak with its interval, beside the allowance. */
export function VerdictFigures({ result }: { result: HoldResult }) {
  const leaks = leaksOf(result)
  const suction = isSuctionHold(result.hold)
  const { drop_Pa: allowedPa, scc_per_min, mL_per_min } = result.allowance
  const reference = leaks.find((one) => one.scc_per_min)?.scc_per_min?.reference
  const rows = leaks.flatMap((one): ComponentChildren[][] => {
    const { drop_Pa: drop } = one
    const text = (pa: number): string => pressureDifference(pa, leakDecimals(drop, allowedPa))
    const side = leaks.length > 1 && result.verdict !== 'void' ? sideOf(drop, allowedPa) : null
    const name = (
      <>
        {one.section}, {suction ? t`rise` : t`drop`}{' '}
        {side && (
          <StateWord state={side.state} word={side.state === 'undecided' ? t`cannot tell` : side.word} />
        )}
      </>
    )
    const low = text(drop.low).replace(/ [^ ]+$/, '')
    const drops = [name, text(drop.value), t`${low} to ${text(drop.high)}`, text(allowedPa)]
    const rate = one.scc_per_min ?? one.mL_per_min
    if (!rate) return [drops]
    const allowed = one.scc_per_min ? scc_per_min : mL_per_min
    const rateText = (value: number | undefined): string => digits(value, rateDecimals(rate, allowed))
    return [
      drops,
      [
        `${one.section}, ${one.scc_per_min ? 'scc/min' : 'mL/min'}`,
        rateText(rate.value),
        t`${rateText(rate.low)} to ${rateText(rate.high)}`,
        rateText(allowed),
      ],
    ]
  })
  return (
    <TableScroll label="Figures of the verdict">
      <Table
        class="figures-table stacks"
        rows={rows}
        columns={[t`in the stated hold`, t`leak`, t`95 % interval`, t`allowed`].map(
          (title, i): Column<(typeof rows)[number]> => [title, (row) => row[i], i === 0 ? 'head' : 'number'],
        )}
      />
      {result.raw_drop_Pa !== null && (
        <p class="small">
          As read over {duration(result.seconds)}, not compensated
          <Term of="compensated" />: {suction ? t`rise` : t`fall`}{' '}
          {pressureDifference(suction ? -result.raw_drop_Pa : result.raw_drop_Pa)}.
        </p>
      )}
      {reference && (
        <p class="small soft">
          scc/min at {conditions(reference)}.
          <Term of="scc/min" />
        </p>
      )}
    </TableScroll>
  )
}
