import { writeFileSync } from 'node:fs'
import { parseArgs } from 'node:util'
import { analyzeRecording } from '#analysis/hold/analyze-recording.ts'
import { simulateHold } from '#ingest/simulator/simulate-hold.ts'
import { leaksOverAllowance, type SectionKind, situations } from '#ingest/simulator/situations.ts'
import { naiveTable, rowsOf, targetLines, verdictTable } from './report.ts'
import { type Trial, trialOf } from './score.ts'
import { validationPage } from './validation-page.ts'

const usage = `npx tsx tests/validation/run.ts [--holds N] [--situation NAME,…] [--kind line|tank] [--leak K,…]
  [--seed FIRST] [--misses] [--json FILE] [--write]
--holds N: seeded holds for each situation and leak (default 20). --misses lists the holds whose interval misses the
truth or whose verdict is wrong. --write regenerates docs/validation.md and docs/validation.json.`

const { values } = parseArgs({
  options: {
    holds: { type: 'string', default: '20' },
    situation: { type: 'string' },
    kind: { type: 'string' },
    leak: { type: 'string' },
    seed: { type: 'string', default: '1' },
    misses: { type: 'boolean', default: false },
    json: { type: 'string' },
    write: { type: 'boolean', default: false },
    help: { type: 'boolean', default: false },
  },
})
if (values.help) {
  console.log(usage)
  process.exit(0)
}
const holds = Number(values.holds)
const firstSeed = Number(values.seed)
const wanted = values.situation?.split(',')
const unknown = wanted?.filter((name) => !situations.some((situation) => situation.name === name)) ?? []
if (unknown.length > 0) {
  console.error(
    `no situation '${unknown.join(', ')}'; there are: ${situations.map(({ name }) => name).join(', ')}`,
  )
  process.exit(2)
}
const leaks = values.leak?.split(',').map(Number) ?? leaksOverAllowance
const kinds: readonly SectionKind[] =
  values.kind === 'line' || values.kind === 'tank' ? [values.kind] : ['line', 'tank']

const trials: Trial[] = []
for (const situation of situations) {
  if (wanted && !wanted.includes(situation.name)) continue
  const startedMs = performance.now()
  for (let i = 0; i < holds; i++) {
    for (const [j, leak] of leaks.entries()) {
      // Every hold has its own seed, so that trials are independent of each other.
      const seed = firstSeed + i * leaks.length + j
      const hold = simulateHold(situation.scenario(seed, leak, kinds[i % kinds.length]), seed)
      const beforeMs = performance.now()
      const analyses = analyzeRecording(hold.recording, hold.system)
      trials.push(trialOf(situation.name, seed, hold, analyses, performance.now() - beforeMs))
    }
  }
  console.error(`${situation.name}: ${((performance.now() - startedMs) / 1000).toFixed(1)} s`)
}

const rows = rowsOf(trials)
console.log(verdictTable(rows, true))
console.log(`\n${naiveTable(rows)}\n`)
console.log(targetLines(rows).join('\n'))

if (values.misses) {
  for (const trial of trials) {
    const { drop, mol, verdict, leakOverAllowance: leak } = trial
    const wrong = (verdict === 'pass' && leak >= 1) || (verdict === 'fail' && leak < 1) || verdict === 'void'
    const outside = !drop || trial.truthDropPa < drop.low || trial.truthDropPa > drop.high
    const molOutside = !mol || trial.truthMolPerS < mol.low || trial.truthMolPerS > mol.high
    if (!wrong && !outside && !molOutside) continue
    const said = drop
      ? `${drop.value.toFixed(1)} (${drop.low.toFixed(1)} to ${drop.high.toFixed(1)})`
      : 'nothing'
    console.log(
      `${trial.situation} ${trial.kind} seed ${trial.seed} leak ${leak} ×: ${verdict}, drop ${said} Pa, ` +
        `truth ${trial.truthDropPa.toFixed(1)} Pa${molOutside ? ', mol/s outside' : ''}; ${trial.reasons.join(', ')}`,
    )
  }
}
if (values.json) writeFileSync(values.json, `${JSON.stringify(trials, null, 1)}\n`)
if (values.write) {
  const page = validationPage(rows, { holds, firstSeed, leaks })
  writeFileSync(new URL('../../docs/validation.md', import.meta.url), page.markdown)
  writeFileSync(new URL('../../docs/validation.json', import.meta.url), page.json)
}
