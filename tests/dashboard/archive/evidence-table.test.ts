import { readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import type { Evidence } from '#analysis/model/evidence.ts'
import { tableColumns, tableRows } from '#dashboard/archive/evidence-table.ts'
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
import { emptyFolder } from './bench-archive.ts'
import { duckQuery } from './fleet-table.ts'

const plane = system(
  [section('feed'), section('forward')],
  [fitting('F1', 'feed'), fitting('F2', 'feed', { kind: 'drain-valve' }), fitting('F3', 'forward')],
  [valve('V1', ['feed', 'forward'])],
  [holdSpec('feed', ['feed'], ['V1']), holdSpec('forward', ['forward'], ['V1'])],
)
const leaking = (ids: Readonly<Record<string, number>>) => ({
  fittings: Object.entries(ids).map(([id, chance]) => ({ id, leaking: chance })),
})
/** F2 leaks, is remade and passes; F1 never leaked. */
const evidence: Evidence[] = [
  held(plane, 'feed', 0, 'fail', [leak('feed', 4e-7, 1e-8)], {
    record: '0001',
    result: leaking({ F1: 0.1, F2: 0.9 }),
  }),
  marked('look', 'F2', 10, { finding: 'bubbles' }),
  marked('work', 'F2', 30, { action: 'remake', torque_Nm: 12.5 }),
  held(plane, 'feed', 60, 'pass', [leak('feed', 1e-9, 1e-9)], {
    record: '0003',
    result: leaking({ F1: 0.01, F2: 0.02 }),
  }),
]
const rows = [...tableRows('a1b2c3d4', plane, evidence)]
const duck = await duckQuery()

describe('tableRows()', () => {
  it('has a row for each hold and section, each fitting reached, each mark and each fitting’s state (counted by hand)', () => {
    const count = (row: string) => rows.filter((r) => r.row === row).length
    expect({
      hold: count('hold'),
      fitting: count('fitting'),
      work: count('work'),
      look: count('look'),
      state: count('state'),
    }).toEqual({
      hold: 2,
      fitting: 4,
      work: 1,
      look: 1,
      state: 3,
    })
    expect(rows.find((r) => r.row === 'work')).toMatchObject({
      fitting: 'F2',
      fitting_kind: 'drain-valve',
      action: 'remake',
      torque_Nm: 12.5,
    })
    expect(rows.findLast((r) => r.fitting === 'F2' && r.row === 'fitting')).toMatchObject({
      record: '0003',
      action: 'remake',
      leaking: 0.02,
      covered: true,
    })
    expect(rows.find((r) => r.row === 'hold')).toMatchObject({
      section: 'feed',
      leak_mol_per_s: 4e-7,
      allowance_mol_per_s: 1e-7,
      verdict: 'fail',
    })
    expect(rows.findLast((r) => r.fitting === 'F2')).toMatchObject({ row: 'state', state: 'proven' })
  })

  it('gives every row every column, and each column stands in docs/formats/table.md', () => {
    const documented = readFileSync(new URL('../../../docs/formats/table.md', import.meta.url), 'utf8')
    for (const row of rows) expect(Object.keys(row)).toEqual(tableColumns)
    for (const column of tableColumns) expect(documented).toContain(`\`${column}\``)
  })

  it.skipIf(duck === null)(
    'is read by DuckDB: which kind leaks how often after which work, by the query of the document',
    async () => {
      const file = join(emptyFolder(), 'fleet.ndjson')
      writeFileSync(file, rows.map((row) => `${JSON.stringify(row)}\n`).join(''))
      const documented = readFileSync(new URL('../../../docs/formats/table.md', import.meta.url), 'utf8')
      const sql = /```sql\n(.*?)```/s.exec(documented)![1].replace('fleet.ndjson', file)
      const found = await duck!(sql)
      expect(
        found.map(({ fitting_kind, action, holds, leaks }) => [
          fitting_kind,
          action,
          Number(holds),
          Number(leaks),
        ]),
      ).toEqual([
        ['drain-valve', null, 1, 0.9],
        ['flare', null, 2, 0.055],
        ['drain-valve', 'remake', 1, 0.02],
      ])
    },
  )
})
