/** Rooms where a fault could pass a leaking hold, lose data or let somebody in, and the tests that are to notice it: files or folders. */
export const rooms: Readonly<Record<string, readonly string[]>> = {
  'ingest/line-protocol': ['tests/ingest/line-protocol', 'tests/ingest/recording/read-recording.test.ts'],
  'ingest/recording': ['tests/ingest/recording', 'tests/dashboard/server/session-recording.test.ts'],
  'dashboard/server/http': ['tests/dashboard/server'],
  'dashboard/server/session': ['tests/dashboard/server'],
  'dashboard/archive': ['tests/dashboard/archive'],
  'analysis/hunt': ['tests/analysis/hunt', 'tests/analysis/plan/season.campaign.test.ts'],
  'analysis/verdict': [
    'tests/analysis/verdict',
    'tests/validation/demo-verdicts.test.ts',
    'tests/analysis/faults',
    'tests/analysis/proof',
    'tests/analysis/reasons/every-code.campaign.test.ts',
  ],
  'analysis/fit': [
    'tests/analysis/fit',
    'tests/analysis/verdict',
    'tests/validation/demo-verdicts.test.ts',
    'tests/validation/liquid-holds.campaign.test.ts',
  ],
  'analysis/faults': [
    'tests/validation/demo-verdicts.test.ts',
    'tests/analysis/faults',
    'tests/analysis/proof',
    'tests/analysis/faults/fault-table.campaign.test.ts',
  ],
}

/** Sources that count to a room beside the files of its folder: folders or files. */
export const alsoOfRoom: Readonly<Record<string, readonly string[]>> = {
  'dashboard/archive': [
    'dashboard/archive/store',
    'dashboard/archive/page/figure-words.ts',
    'dashboard/archive/page/result-facts.ts',
    'dashboard/archive/page/hold-facts.ts',
  ],
}
