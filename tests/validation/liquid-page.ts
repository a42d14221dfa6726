import type { LiquidScore } from './liquid-score.ts'
import { liquidSituations } from './liquid-situations.ts'

const percent = (value: number | null) => (value === null ? '–' : (100 * value).toFixed(1))

/** The scores as a table; shares in percent. */
export function liquidTable(scores: readonly LiquidScore[]): string {
  const head = [
    'situation',
    'holds',
    'void',
    'covers mL/min',
    'covers drop',
    'false pass ≥ 1 ×',
    'false pass at 1 ×',
    'false fail < 1 ×',
    'decided at 0',
    'decided at 2 ×',
    'decided at 5 ×',
    'half-width at 1 ×',
  ]
  const body = scores.map((s) => [
    s.situation,
    String(s.holds),
    ...[s.void, s.coversMl, s.coversDrop, s.falsePass, s.falsePassAtAllowance, s.falseFail].map(percent),
    ...[s.decidedTight, s.decidedDouble, s.decidedFivefold, s.halfWidth].map(percent),
  ])
  const widths = head.map((cell, i) => Math.max(cell.length, ...body.map((row) => row[i].length)))
  const line = (cells: readonly string[]) =>
    `| ${cells.map((cell, i) => (i === 0 ? cell.padEnd(widths[i]) : cell.padStart(widths[i]))).join(' | ')} |`
  const rule = `|${widths.map((width, i) => (i === 0 ? '-'.repeat(width + 2) : `${'-'.repeat(width + 1)}:`)).join('|')}|`
  return [line(head), rule, ...body.map(line)].join('\n')
}

/** What is asked of the intervals and verdicts, and where it is missed. */
export function targetLines(scores: readonly LiquidScore[]): string[] {
  const each = scores.filter(({ situation }) => situation !== 'all')
  const all = scores[scores.length - 1]
  const check = (claim: string, missed: readonly string[]) =>
    `- ${missed.length === 0 ? 'met' : 'MISSED'}: ${claim}${missed.length > 0 ? ` (${missed.join('; ')})` : ''}`
  const where = (of: (score: LiquidScore) => number | null, bad: (value: number) => boolean) =>
    each
      .filter((score) => of(score) !== null && bad(of(score) as number))
      .map((score) => `${score.situation} ${percent(of(score))} %`)
  return [
    ...(['coversMl', 'coversDrop'] as const).flatMap((key) => {
      const name = key === 'coversMl' ? 'mL_per_min' : 'drop_Pa'
      return [
        check(
          `the interval of ${name} covers the truth in at least 93 % of all holds`,
          (all[key] ?? 1) < 0.93 ? [`${percent(all[key])} %`] : [],
        ),
        check(
          'and in at least 88 % in every situation',
          where(
            (score) => score[key],
            (value) => value < 0.88,
          ),
        ),
      ]
    }),
    check(
      'a hold at or above the allowance passes in at most 2.5 %, in every situation',
      where(
        (score) => score.falsePass,
        (value) => value > 0.025,
      ),
    ),
    check(
      'a hold below the allowance fails in at most 2.5 %, in every situation',
      where(
        (score) => score.falseFail,
        (value) => value > 0.025,
      ),
    ),
  ]
}

/** The page that `--write` stores: no date and no times, so that a second run gives the same bytes. */
export function liquidPage(
  scores: readonly LiquidScore[],
  run: { readonly holds: number; readonly firstSeed: number },
): string {
  const total = scores[scores.length - 1].holds
  return `# Validation of liquid holds

How often is the verdict on a line full of fuel right, and does its 95 % interval hold what it promises? This page is
written by

    npx tsx tests/validation/liquid.ts --holds ${run.holds} --write

and by nothing else: ${total} simulated holds, ${run.holds} for each situation and leak, of avgas, mogas and jet-a in lines of 0.1
to 1 L of aluminium, steel or hose at 5 to 50 psi, with no air in a tenth of them and 0.05 to 2 % in the others, stretch stated in
half, seeds from ${run.firstSeed}. Leaks of 0, 0.5, 1, 1.25, 2 and 5 times the allowance.

The holds come from a simulator of their own (\`tests/validation/liquid-world.ts\`) that shares no formula with the analysis: the
fuel conducts heat in shells, two stretches of the line feel the room differently, air is squeezed and warmed, walls stretch and
creep, compression warms the fuel; the thermometer sits on one stretch and lags. They are of our own making: they show that the
method keeps its word under this physics, not that every aircraft obeys it.

A line without air moves by half a megapascal or more for each kelvin. Where the room swings or the sun comes out, many of these
holds run off the gauge or lose their pressure: they are void, as they should be, and counted as nothing else.

## Situations

${Object.entries(liquidSituations)
  .map(([name, about]) => `- **${name}**: ${about}`)
  .join('\n')}

## Targets

${targetLines(scores).join('\n')}

## Verdicts and intervals

Shares in percent of the holds that are not void. *Covers*: the 95 % interval contains the truth. *Decided*: pass or fail within
the stated hold time. *Half-width*: half of the interval of mL/min, over the truth. Where temperature moves, the answer is mostly
*undecided*, and says that a steadier one is needed.

${liquidTable(scores)}
`
}
