import { parseArgs } from 'node:util'
import { allTargets } from './all-targets.ts'
import { runTarget } from './run-target.ts'

/**
 * `tsx tests/fuzz/run.ts [--share 0.1] [--seed 1]`: the long run or a share of it, one JSON line a target. With `--only name`
 * one target, and with `--inputs 500 --first 1000` a part of its inputs.
 */
const { values } = parseArgs({
  options: {
    share: { type: 'string', default: '1' },
    seed: { type: 'string', default: '1' },
    only: { type: 'string' },
    inputs: { type: 'string' },
    first: { type: 'string', default: '0' },
  },
})
for (const { target, long } of await allTargets()) {
  if (values.only !== undefined && !target.name.includes(values.only)) {
    await target.close?.()
    continue
  }
  const inputs = Number(values.inputs ?? Math.ceil(long * Number(values.share)))
  const report = await runTarget(target, inputs, Number(values.seed), Number(values.first))
  process.stdout.write(`${JSON.stringify(report)}\n`)
  if (report.faults.length > 0) process.exitCode = 1
}
