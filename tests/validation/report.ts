import { wilsonInterval } from '#tests/wilson-interval.ts'
import { type Score, scoreOf, type Trial } from './score.ts'

export interface Row {
  readonly situation: string
  readonly kind: 'line' | 'tank' | 'both'
  readonly score: Score
}

/** What all trials say; those beyond the even plan, all at exactly the allowance, count only for the passes there. */
export interface Report {
  readonly rows: readonly Row[]
  readonly atAllowance: readonly PassesAtAllowance[]
}

export interface PassesAtAllowance {
  readonly situation: string
  readonly holds: number
  readonly passes: number
}

export function reportOf(trials: readonly Trial[], moreAtAllowance: readonly Trial[]): Report {
  const rows = rowsOf(trials)
  const there = [...trials, ...moreAtAllowance].filter((trial) => trial.leakOverAllowance === 1)
  const atAllowance = rows
    .filter((row) => row.kind === 'both')
    .map(({ situation }) => {
      const own = there.filter((trial) => situation === 'all' || trial.situation === situation)
      return { situation, holds: own.length, passes: own.filter((trial) => trial.verdict === 'pass').length }
    })
  return { rows, atAllowance }
}

/** One row for each situation, each split by kind of section, and all together. */
function rowsOf(trials: readonly Trial[]): Row[] {
  const names = [...new Set(trials.map((trial) => trial.situation))]
  const rows: Row[] = names.flatMap((situation) => {
    const own = trials.filter((trial) => trial.situation === situation)
    const kinds = (['line', 'tank'] as const).map((kind) => ({
      situation,
      kind,
      score: scoreOf(own.filter((trial) => trial.kind === kind)),
    }))
    return [
      { situation, kind: 'both' as const, score: scoreOf(own) },
      ...kinds.filter((row) => row.score.trials > 0),
    ]
  })
  return [...rows, { situation: 'all', kind: 'both', score: scoreOf(trials) }]
}

const percent = (value: number | null, digits = 1) => (value === null ? '–' : (100 * value).toFixed(digits))

/** The verdict's figures; shares in percent. */
export function verdictTable(rows: readonly Row[], withTime: boolean): string {
  const head = [
    'situation',
    'section',
    'holds',
    'covers drop',
    'covers mol/s',
    'false pass ≥ 1 ×',
    'false pass at 1 ×',
    'false fail at 0',
    'decided at 0',
    'decided at 2 ×',
    'median error at 1 ×',
    'half-width at 1 ×',
    'void',
    ...(withTime ? ['ms'] : []),
  ]
  return table(
    head,
    rows.map(({ situation, kind, score }) => [
      situation,
      kind,
      String(score.trials),
      percent(score.dropCoverage),
      percent(score.molCoverage),
      percent(score.falsePass),
      percent(score.falsePassAtAllowance),
      percent(score.falseFail),
      percent(score.decidedTight),
      percent(score.decidedDouble),
      percent(score.medianErrorAtAllowance),
      percent(score.medianHalfWidth),
      percent(score.void),
      ...(withTime ? [score.meanAnalysisMs?.toFixed(0) ?? '–'] : []),
    ]),
  )
}

/** The naive methods on the same holds. */
export function naiveTable(rows: readonly Row[]): string {
  const head = [
    'situation',
    'raw drop: false pass',
    'false fail',
    'median error',
    'p/T line: covers drop',
    'false pass',
    'false fail',
    'median error',
  ]
  return table(
    head,
    rows
      .filter((row) => row.kind === 'both')
      .map(({ situation, score: { raw, regression } }) => [
        situation,
        percent(raw.falsePass),
        percent(raw.falseFail),
        percent(raw.medianErrorAtAllowance, 0),
        percent(regression.coverage),
        percent(regression.falsePass),
        percent(regression.falseFail),
        percent(regression.medianErrorAtAllowance, 0),
      ]),
  )
}

function table(head: readonly string[], body: readonly (readonly string[])[]): string {
  const widths = head.map((cell, i) => Math.max(cell.length, ...body.map((row) => row[i].length)))
  const line = (cells: readonly string[]) =>
    `| ${cells.map((cell, i) => (i === 0 ? cell.padEnd(widths[i]) : cell.padStart(widths[i]))).join(' | ')} |`
  const rule = `|${widths.map((width, i) => (i === 0 ? '-'.repeat(width + 2) : `${'-'.repeat(width + 1)}:`)).join('|')}|`
  return [line(head), rule, ...body.map(line)].join('\n')
}

/** Passes among the holds at exactly the allowance, with the 95 % limits (Wilson) that so many holds give. */
export function atAllowanceTable(counts: readonly PassesAtAllowance[]): string {
  return table(
    ['situation', 'holds at 1 ×', 'pass', 'share', '95 % limits'],
    counts.map(({ situation, holds, passes }) => {
      const [low, high] = wilsonInterval(passes, holds)
      return [
        situation,
        String(holds),
        String(passes),
        percent(passes / holds),
        `${percent(low)} to ${percent(high)}`,
      ]
    }),
  )
}

/** The targets of the analysis; `met` says in one line where it is missed. */
export function targetLines({ rows, atAllowance }: Report): string[] {
  const perSituation = rows.filter((row) => row.kind === 'both' && row.situation !== 'all')
  const all = rows[rows.length - 1].score
  const lines: string[] = []
  const check = (claim: string, missed: readonly string[]) =>
    lines.push(
      `- ${missed.length === 0 ? 'met' : 'MISSED'}: ${claim}${missed.length ? ` (${missed.join('; ')})` : ''}`,
    )
  const over = (limit: (row: Row) => number, of: (score: Score) => number | null) =>
    perSituation
      .filter((row) => (of(row.score) ?? 0) > limit(row))
      .map((row) => `${row.situation} ${percent(of(row.score))} %`)
  const under = (limit: (row: Row) => number, of: (score: Score) => number | null) =>
    perSituation
      .filter((row) => (of(row.score) ?? 1) < limit(row))
      .map((row) => `${row.situation} ${percent(of(row.score))} %`)
  for (const [quantity, of] of [
    ['drop_Pa', (score: Score) => score.dropCoverage],
    ['mol_per_s', (score: Score) => score.molCoverage],
  ] as const) {
    check(
      `the interval of ${quantity} covers the truth in at least 93 % of all holds`,
      (of(all) ?? 1) < 0.93 ? [`${percent(of(all))} %`] : [],
    )
    check(
      `and in at least 88 % in every situation`,
      under(() => 0.88, of),
    )
  }
  check(
    'a hold at or above the allowance passes in at most 2.5 %, in every situation',
    over(
      () => 0.025,
      (score) => score.falsePass,
    ),
  )
  check(
    'the same for holds at exactly the allowance',
    atAllowance
      .filter(({ situation, holds, passes }) => situation !== 'all' && passes > 0.025 * holds)
      .map(({ situation, holds, passes }) => `${situation} ${percent(passes / holds)} %`),
  )
  check(
    'a tight hold fails in at most 1 %, in every situation',
    over(
      () => 0.01,
      (score) => score.falseFail,
    ),
  )
  const enough = (row: Row) => (row.situation === 'steady' ? 0.95 : 0.85)
  check(
    'at 0 at least 85 % are decided (95 % steady)',
    under(enough, (score) => score.decidedTight),
  )
  check(
    'at 2 × at least 85 % are decided (95 % steady)',
    under(enough, (score) => score.decidedDouble),
  )
  check(
    'median error at 1 × at most 5 % steady',
    over(
      (row) => (row.situation === 'steady' ? 0.05 : 9),
      (score) => score.medianErrorAtAllowance,
    ),
  )
  check(
    'and at most 15 % overall',
    (all.medianErrorAtAllowance ?? 0) > 0.15 ? [`${percent(all.medianErrorAtAllowance)} %`] : [],
  )
  return lines
}
