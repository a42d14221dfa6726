import { parseArgs } from 'node:util'
import { allTargets } from './all-targets.ts'
import { runTarget } from './run-target.ts'

/** `tsx tests/fuzz/run.ts [--share 0.1] [--seed 1]`: the long run or a share of it, one JSON line a target. */
const { values } = parseArgs({
  options: { share: { type: 'string', default: '1' }, seed: { type: 'string', default: '1' } },
})
for (const { target, long } of await allTargets()) {
  const report = await runTarget(target, Math.ceil(long * Number(values.share)), Number(values.seed))
  process.stdout.write(`${JSON.stringify(report)}\n`)
  if (report.faults.length > 0) process.exitCode = 1
}
