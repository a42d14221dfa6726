import { writeFileSync } from 'node:fs'
import { parseArgs } from 'node:util'
import { type HuntedSystem, huntSystem } from './hunt-world.ts'

const usage = `npx tsx tests/validation/hunt.ts [--systems N] [--final] [--json FILE]
--systems N  so many made-up systems of 10 to 60 fittings (default 100)
--final      the seeds that are looked at once, after all tuning; else those to tune on`

const { values } = parseArgs({
  options: {
    systems: { type: 'string', default: '100' },
    final: { type: 'boolean', default: false },
    json: { type: 'string' },
    help: { type: 'boolean', default: false },
  },
})
if (values.help) {
  console.log(usage)
  process.exit(0)
}

const from = values.final ? 130_001 : 1
const runs: HuntedSystem[] = []
for (let i = 0; i < Number(values.systems); i++) runs.push(huntSystem(from + i))
if (values.json)
  writeFileSync(
    values.json,
    JSON.stringify(
      runs.map(({ told: _, ...rest }) => rest),
      null,
      1,
    ),
  )
console.log(report(runs))

function report(all: readonly HuntedSystem[]): string {
  const leaking = all.filter((r) => r.leaking.length > 0)
  const called = all.filter((r) => r.called !== null)
  const wrong = called.filter((r) => !r.called!.leaks)
  const found = leaking.filter((r) => r.called?.leaks)
  const mean = (of: (r: HuntedSystem) => number): number =>
    leaking.reduce((sum, r) => sum + of(r), 0) / leaking.length
  const lines = [
    `${all.length} systems, ${leaking.length} with a leak; ${found.length} found, ${wrong.length} of ${called.length} calls wrong, ${all.filter((r) => r.ranOut).length} ran out of advice`,
    `mean time ${mean((r) => r.minutes).toFixed(1)} min, soap on everything ${mean((r) => r.soapMinutes).toFixed(1)} min, ratio ${(mean((r) => r.minutes) / mean((r) => r.soapMinutes)).toFixed(2)}`,
    '',
    '| said | joints | leak | said on average |',
    '| --- | --- | --- | --- |',
  ]
  const edges = [0, 0.01, 0.03, 0.1, 0.2, 0.4, 0.6, 0.8, 0.9, 1.0001]
  const told = all.flatMap((r) => r.told)
  for (let i = 1; i < edges.length; i++) {
    const bin = told.filter((t) => t.chance >= edges[i - 1] && t.chance < edges[i])
    if (bin.length === 0) continue
    const share = bin.filter((t) => t.leaks).length / bin.length
    const said = bin.reduce((sum, t) => sum + t.chance, 0) / bin.length
    lines.push(
      `| ${Math.round(100 * edges[i - 1])} to ${Math.round(100 * Math.min(1, edges[i]))} % | ${bin.length} | ${(100 * share).toFixed(1)} % | ${(100 * said).toFixed(1)} % |`,
    )
  }
  return lines.join('\n')
}
