import { parseArgs } from 'node:util'
import { situations } from '#tests/simulator/situations.ts'
import { everySituation, type LongerHold, longerGasHolds, longerLiquidHolds } from './longer-holds.ts'

const usage = `npx tsx tests/validation/longer.ts [--holds N] [--situation NAME;…] [--seed FIRST]
Holds the undecided as much longer as the analysis says, and for as long as anybody would: how often is it right?
--holds N    seeded holds for each situation, kind and leak (default 2)`

const { values } = parseArgs({
  options: {
    holds: { type: 'string', default: '2' },
    situation: { type: 'string' },
    seed: { type: 'string', default: '1' },
    help: { type: 'boolean', default: false },
  },
})
const wanted = values.situation?.split(';') ?? everySituation
if (values.help || wanted.some((name) => !everySituation.includes(name))) {
  console.log(`${usage}\nsituations: ${everySituation.join('; ')}`)
  process.exit(values.help ? 0 : 2)
}
const [holds, seed] = [Number(values.holds), Number(values.seed)]
const all = wanted.flatMap((name) => {
  const gas = situations.find((situation) => situation.name === name)
  const own = gas
    ? longerGasHolds(gas, ['line', 'tank'], holds, seed)
    : longerLiquidHolds(name.replace('liquid, ', ''), holds, seed)
  console.log(row(name, own))
  return own
})
console.log(row('all', all))
console.log(
  row(
    'all of gas',
    all.filter(({ situation }) => !situation.startsWith('liquid')),
  ),
)
console.log(
  row(
    'all of liquids',
    all.filter(({ situation }) => situation.startsWith('liquid')),
  ),
)

function row(name: string, of: readonly LongerHold[]): string {
  const told = of.filter(({ secondsMore }) => secondsMore !== null)
  const decidable = of.filter((hold) => hold.decidable)
  const helped = decidable.filter(({ secondsMore }) => secondsMore !== null)
  return `${name.padEnd(24)} undecided ${of.length}, given a time ${told.length}, of these decided then ${told.filter(({ decided }) => decided).length}; decidable at all ${decidable.length}, of these given a time ${helped.length}`
}
