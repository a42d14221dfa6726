import { parseArgs } from 'node:util'
import { simulateHold } from '#tests/simulator/simulate-hold.ts'
import { situations } from '#tests/simulator/situations.ts'
import { looksAt } from './looks.ts'

const usage = `npx tsx tests/validation/watched.ts [--holds N] [--looks N] [--seed FIRST]
Holds that leak exactly the allowance, watched: how many does somebody pass who stops at the first look that passes?
--holds N    seeded holds for each situation and kind (default 5)
--looks N    at even times of the hold, the end among them (default 4)`

const { values } = parseArgs({
  options: {
    holds: { type: 'string', default: '5' },
    looks: { type: 'string', default: '4' },
    seed: { type: 'string', default: '1' },
    help: { type: 'boolean', default: false },
  },
})
if (values.help) {
  console.log(usage)
  process.exit(0)
}
let [holds, live, atEnd, either] = [0, 0, 0, 0]
for (const situation of situations) {
  for (let i = 0; i < Number(values.holds); i++) {
    for (const kind of ['line', 'tank'] as const) {
      const seed = Number(values.seed) + i
      const { recording, system } = simulateHold(situation.scenario(seed, 1, kind), seed)
      const verdicts = looksAt(recording, system, system.holds[0].holdS / Number(values.looks))
      const passed = verdicts.map(({ verdict }) => verdict === 'pass')
      holds++
      if (passed.slice(0, -1).includes(true)) live++
      if (passed.at(-1)) atEnd++
      if (passed.includes(true)) either++
    }
  }
  console.log(
    `${situation.name}: of ${holds} so far, ${live} passed live, ${atEnd} at the end, ${either} ever`,
  )
}
