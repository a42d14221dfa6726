import { expect, it } from 'vitest'
import { hasSocat } from '#tests/ingest/sources/pseudo-terminal.ts'
import { killAgain } from './kill.ts'

it.skipIf(!hasSocat)(
  'killAgain(6) finds every line older than a second, every mark, one record a hold and a sound archive (skipped without socat)',
  async () => {
    const report = await killAgain(6, 7, () => {})
    expect(report.faults).toEqual([])
    expect(report.holdsStarted).toBeGreaterThan(0)
    // A start that the kill kept from being answered may have a record too.
    expect(report.holdsSealed).toBeGreaterThanOrEqual(report.holdsStarted)
  },
)
