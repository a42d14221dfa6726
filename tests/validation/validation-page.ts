import { situations } from '#tests/simulator/situations.ts'
import { seedAfter, type TrialPlan } from './play-trials.ts'
import { atAllowanceTable, naiveTable, type Report, type Row, targetLines, verdictTable } from './report.ts'

/** The page and the figures that `--write` stores: no date and no times, so that a second run gives the same bytes. */
export function validationPage(
  report: Report,
  plan: TrialPlan,
  atAllowance: TrialPlan,
): { readonly markdown: string; readonly json: string } {
  const { rows } = report
  const names = rows
    .filter((row) => row.kind === 'both' && row.situation !== 'all')
    .map((row) => row.situation)
  const about = situations
    .filter(({ name }) => names.includes(name))
    .map(({ name, about }) => `- **${name}**: ${about}`)
  const total = rows[rows.length - 1].score.trials
  const markdown = `# Validation

How often is a verdict right, and does the 95 % interval hold what it promises? This page is written by

    npx tsx tests/validation/run.ts --holds ${plan.holds} --at-allowance ${atAllowance.holds} --write

and by nothing else: ${total} simulated holds, ${plan.holds} for each situation and leak, half of them lines of 0.2 to 1 L
at 5 to 30 psi and half tanks of 40 to 120 L at 0.5 to 2 psi, leaks of ${plan.leaks.join(', ')} times the allowance,
seeds ${plan.firstSeed} to ${seedAfter(plan) - 1}. The same command gives the same page.

The holds come from a simulator (\`ingest/simulator\`) that shares no code with the analysis: it integrates the
amount of gas, its energy and the wall's, with pump-up and vent, in steps of 0.1 to 0.5 s, lets the gas leak through
laminar paths and the volume stretch and creep, and reads the result with cheap instruments: lag, noise, drift, steps
of the converter, jitter of the clock, lost samples. The true volume lies anywhere within its stated tolerance.
These are simulated holds of our own making: they show that the method keeps its word under this physics, not that
every aircraft obeys it.

## Situations

${about.join('\n')}

## Targets

${targetLines(report).join('\n')}

## Verdicts and intervals

Shares in percent. *Covers*: the 95 % interval contains the truth. *False pass*: a hold that leaks at or above the
allowance passes. *Decided*: pass or fail within the stated hold time. *Half-width*: half of the interval, over the truth.

${verdictTable(rows, false)}

## At exactly the allowance

Here a verdict is hardest and a pass is most often wrong, so that more holds were played than the even plan has:
${atAllowance.holds} more for each situation, seeds ${atAllowance.firstSeed} to ${seedAfter(atAllowance) - 1}. The limits say what so many holds can tell.

${atAllowanceTable(report.atAllowance)}

## What plain methods make of the same holds

*Raw drop*: the needle at the start less the needle at the end. *p/T line*: a straight line through p·T₀/T by least
squares, with the 95 % interval that the line itself claims. Shares and errors in percent.

${naiveTable(rows)}
`
  const written = { ...plan, rows: rows.map(withoutTime), atAllowance: report.atAllowance }
  const json = `${JSON.stringify(written, null, 1)}\n`
  return { markdown, json }
}

function withoutTime(row: Row): object {
  const { meanAnalysisMs: _, ...score } = row.score
  return { ...row, score }
}
