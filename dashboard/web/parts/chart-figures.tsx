import { t } from '#analysis/reasons/language.ts'
import { clock, digits } from '../quantity.ts'
import { type ChartColumns, firstAt } from './line-path.ts'
import { type Column, Table } from './table-scroll.tsx'

/** Text alternative of a chart. */
export interface ChartFigures {
  /** The trend of each line in words. */
  readonly summary: string
  readonly rows: readonly { readonly time: string; readonly values: readonly string[] }[]
}

/** Row limit of the table: more rows are hard to follow with a screen reader. */
export const rowsAtMost = 9

/** Newest value at or before a time; null in a gap. */
export function valueAt(columns: ChartColumns | undefined, atS: number): number | null {
  if (columns === undefined) return null
  return columns.y[Math.max(0, firstAt(columns.x, atS + 1e-9) - 1)] ?? null
}

const isNumber = (value: unknown): value is number => Number.isFinite(value)

/** `as read falls from 10.02 to 9.98 psi in 8:20, lowest 9.97, highest 10.03`. */
function runOf(
  columns: ChartColumns,
  label: string,
  [fromS, toS]: readonly [number, number],
  unit: string,
  decimals: number,
): string {
  const seen: { x: number; y: number }[] = []
  const end = firstAt(columns.x, toS + 1e-9)
  for (let i = firstAt(columns.x, fromS); i < end; i++) {
    const [x, y] = [columns.x[i], columns.y[i]]
    if (isNumber(x) && isNumber(y)) seen.push({ x, y })
  }
  const [first] = seen
  const last = seen.at(-1)
  if (first === undefined || last === undefined) return t`${label} has no readings yet`
  const [from, to] = [digits(first.y, decimals), digits(last.y, decimals)]
  const runs =
    from === to
      ? t`stays at ${from}`
      : last.y < first.y
        ? t`falls from ${from} to ${to}`
        : t`rises from ${from} to ${to}`
  const values = seen.map(({ y }) => y)
  const low = values.reduce((one, other) => Math.min(one, other))
  const high = values.reduce((one, other) => Math.max(one, other))
  return t`${label} ${runs} ${unit} in ${clock(last.x - first.x)}, lowest ${digits(low, decimals)}, highest ${digits(high, decimals)}`
}

export function figuresOf(
  { columns, x, zeroS }: ChartView,
  labels: readonly string[],
  unit: string,
  decimals: number,
): ChartFigures {
  const runs = labels.map((label, i) => runOf(columns[i] ?? { x: [], y: [] }, label, x, unit, decimals))
  const newestS = Math.max(...columns.map((one) => one.x[one.x.length - 1] ?? x[0]))
  const endS = Math.min(x[1], Math.max(x[0], newestS))
  const rows = Array.from(
    { length: rowsAtMost },
    (_, i) => x[0] + ((endS - x[0]) * i) / (rowsAtMost - 1),
  ).map((atS) => ({
    time: `${atS < zeroS - 0.5 ? '−' : ''}${clock(Math.abs(atS - zeroS))}`,
    values: columns.map((one) => {
      const value = atS >= (one.x[0] ?? Number.POSITIVE_INFINITY) - 1e-9 ? valueAt(one, atS) : null
      return isNumber(value) ? digits(value, decimals) : t`no reading`
    }),
  }))
  return { summary: `${runs.join('; ')}.`, rows }
}

/** The summary and the table that a screen reader reads instead of the picture. */
export function ChartTable(props: {
  readonly label: string
  readonly unit: string
  readonly lines: readonly { readonly label: string }[]
  readonly figures: ChartFigures
}) {
  const { summary, rows } = props.figures
  return (
    <div class="unseen">
      <p>{summary}</p>
      {rows.length > 0 && (
        <Table
          class=""
          caption={`${props.label}, ${props.unit}`}
          rows={rows}
          columns={[
            [t`time`, ({ time }) => time, 'head'],
            ...props.lines.map(
              ({ label }, i): Column<ChartFigures['rows'][number]> => [label, ({ values }) => values[i]],
            ),
          ]}
        />
      )}
    </div>
  )
}

export interface ChartView {
  /** One table a line, each with its own times. */
  readonly columns: readonly ChartColumns[]
  readonly x: readonly [number, number]
  /** Null: fit the data. */
  readonly y: readonly [number, number] | null
  readonly zeroS: number
  /** Stream seconds in one second of real time; default 1. */
  readonly speed?: number
}
