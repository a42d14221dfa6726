import { closeSync, mkdtempSync, openSync, rmSync, writeSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { Evidence } from '#analysis/model/evidence.ts'
import { tableRows } from '#dashboard/archive/evidence-table.ts'
import {
  fitting,
  held,
  holdSpec,
  leak,
  marked,
  section,
  system,
  valve,
} from '#tests/analysis/hunt/made-system.ts'
import { duckQuery } from '#tests/dashboard/archive/fleet-table.ts'
import type { BenchPlan } from './bench-plan.ts'

const kinds = ['flare', 'pipe-thread', 'hose-end', 'drain-valve', 'sender-gasket'] as const
const plane = system(
  [section('feed'), section('forward')],
  kinds.flatMap((kind, i) => [fitting(`A${i}`, 'feed', { kind }), fitting(`B${i}`, 'forward', { kind })]),
  [valve('V1', ['feed', 'forward'])],
  [holdSpec('feed', ['feed'], ['V1']), holdSpec('forward', ['forward'], ['V1'])],
)
const holdsEach = 100

/** One aircraft's months: every tenth hold fails at a joint, which is remade. */
function months(aircraft: number): Evidence[] {
  return Array.from({ length: holdsEach }, (_, i): Evidence[] => {
    const hold = i % 2 === 0 ? 'feed' : 'forward'
    const at = 60 * i
    const bad = `${i % 2 === 0 ? 'A' : 'B'}${(i + aircraft) % kinds.length}`
    const fails = (i + aircraft) % 10 === 0
    const fittings = plane.fittings.map(({ id }) => ({ id, leaking: fails && id === bad ? 0.9 : 0.01 }))
    const one = held(plane, hold, at, fails ? 'fail' : 'pass', [leak(hold, fails ? 4e-7 : 1e-9, 1e-9)], {
      record: `${i}`,
      result: { fittings },
    })
    return fails ? [one, marked('work', bad, at + 30, { action: 'remake' })] : [one]
  }).flat()
}

/** Holds of a fleet written as one table, and DuckDB asked which kind of fitting leaks after which work. */
const fleet: BenchPlan = async (quick) => {
  const aircraft = quick ? 50 : 1000
  const folder = mkdtempSync(join(tmpdir(), 'stillhold-fleet-'))
  const file = join(folder, 'fleet.ndjson')
  const from = performance.now()
  const out = openSync(file, 'w')
  for (let a = 0; a < aircraft; a++)
    writeSync(
      out,
      [...tableRows(`w${a}`, plane, months(a))].map((row) => `${JSON.stringify(row)}\n`).join(''),
    )
  closeSync(out)
  const written = (performance.now() - from) / 1000
  const query = await duckQuery()
  const asked = performance.now()
  const found = await query?.(
    `SELECT fitting_kind, action, count(*) AS holds, avg(leaking) AS leaks FROM read_json('${file}', format = 'newline_delimited', sample_size = -1) WHERE row = 'fitting' AND covered AND counts GROUP BY ALL`,
  )
  const answered = (performance.now() - asked) / 1000
  rmSync(folder, { recursive: true })
  return {
    kind: 'figures',
    name: `a fleet of ${aircraft} aircraft, ${aircraft * holdsEach} holds, as one table`,
    figures: [
      { name: 'written', value: written, unit: 's', atMost: null },
      { name: 'asked of DuckDB', value: found ? answered : Number.NaN, unit: 's', atMost: null },
      { name: 'groups answered', value: found?.length ?? 0, unit: '', atMost: null },
    ],
  }
}

export const plans: readonly BenchPlan[] = [fleet]
