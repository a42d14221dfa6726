/**
 * Rooms where a fault could pass a leaking hold, lose data or let somebody in, and the tests that are to notice it: files or
 * folders, the quick and telling ones first.
 */
export const rooms: Readonly<Record<string, readonly string[]>> = {
  'ingest/line-protocol': ['tests/ingest/line-protocol', 'tests/ingest/recording/read-recording.test.ts'],
  'ingest/recording': ['tests/ingest/recording', 'tests/dashboard/server/session-recording.test.ts'],
  'dashboard/server/http': [
    'tests/dashboard/server/own-hosts.test.ts',
    'tests/dashboard/server/sharing.test.ts',
    'tests/dashboard/server/routes.test.ts',
    'tests/dashboard/server',
  ],
  'dashboard/server/session': ['tests/dashboard/server/stage-machine.test.ts', 'tests/dashboard/server'],
  'dashboard/archive': ['tests/dashboard/archive'],
  'analysis/hunt': ['tests/analysis/hunt', 'tests/analysis/plan/season.campaign.test.ts'],
  'analysis/verdict': [
    'tests/analysis/verdict/edges.test.ts',
    'tests/analysis/verdict',
    'tests/validation/demo-verdicts.test.ts',
    'tests/analysis/faults',
    'tests/analysis/proof',
    'tests/analysis/reasons/every-code.campaign.test.ts',
  ],
  'analysis/fit': ['tests/analysis/fit', 'tests/analysis/verdict', 'tests/validation/demo-verdicts.test.ts'],
  'analysis/faults': [
    'tests/analysis/faults/edges.test.ts',
    'tests/validation/demo-verdicts.test.ts',
    'tests/analysis/faults',
    'tests/analysis/proof',
    'tests/analysis/faults/fault-table.campaign.test.ts',
  ],
}
