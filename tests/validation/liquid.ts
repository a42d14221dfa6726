import { writeFileSync } from 'node:fs'
import { parseArgs } from 'node:util'
import { liquidPage, liquidTable, targetLines } from './liquid-page.ts'
import { type LiquidTrial, liquidScore, liquidTrials } from './liquid-score.ts'
import { liquidSituations } from './liquid-situations.ts'

const usage = `npx tsx tests/validation/liquid.ts [--holds N] [--situation NAME] [--seed FIRST] [--misses] [--write]
--holds N    seeded holds for each situation and leak (default 10)
--misses     list the holds whose interval misses the truth or whose verdict is wrong
--write      regenerate docs/validation-liquid.md`

const { values } = parseArgs({
  options: {
    holds: { type: 'string', default: '10' },
    situation: { type: 'string' },
    seed: { type: 'string', default: '1' },
    misses: { type: 'boolean', default: false },
    write: { type: 'boolean', default: false },
    help: { type: 'boolean', default: false },
  },
})
const known = Object.keys(liquidSituations)
const wanted = values.situation === undefined ? known : [values.situation]
if (values.help || wanted.some((name) => !known.includes(name))) {
  console.log(`${usage}\nsituations: ${known.join('; ')}`)
  process.exit(values.help ? 0 : 2)
}
const run = { holds: Number(values.holds), firstSeed: Number(values.seed) }
const trials = wanted.flatMap((name) => {
  const own = liquidTrials(name, run.holds, run.firstSeed)
  console.error(name)
  return own
})
const scores = [
  ...wanted.map((name) =>
    liquidScore(
      name,
      trials.filter(({ situation }) => situation === name),
    ),
  ),
  liquidScore('all', trials),
]
console.log(liquidTable(scores))
console.log(`\n${targetLines(scores).join('\n')}`)
if (values.misses) console.log(`\n${trials.flatMap(missOf).join('\n')}`)
if (values.write)
  writeFileSync(new URL('../../docs/validation-liquid.md', import.meta.url), liquidPage(scores, run))

function missOf(trial: LiquidTrial): string[] {
  const { mlPerMin: said, truthMlPerMin: truth, verdict, leak } = trial
  const wrong = (verdict === 'pass' && leak >= 1) || (verdict === 'fail' && leak < 1)
  const outside = verdict !== 'void' && (said === null || truth < said.low || truth > said.high)
  if (!wrong && !outside) return []
  const interval =
    said === null
      ? 'nothing'
      : `${said.value.toPrecision(3)} (${said.low.toPrecision(3)} to ${said.high.toPrecision(3)})`
  return [
    `${trial.situation} seed ${trial.seed} leak ${leak} ×, ${trial.about}: ${verdict}, ${interval} mL/min, truth ${truth.toPrecision(3)}`,
  ]
}
