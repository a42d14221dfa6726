import { expect, it } from 'vitest'
import { hasSocat } from '#tests/ingest/sources/pseudo-terminal.ts'
import { killAgain } from './kill.ts'

it.skipIf(!hasSocat)(
  'killAgain(6) finds every line older than a second, every mark, one record a hold and a sound archive (skipped without socat)',
  async () => {
    const report = await killAgain(6, 7, () => {})
    expect(report.faults).toEqual([])
    expect(report.holdsStarted).toBeGreaterThan(0)
    expect(report.holdsSealed).toBe(report.holdsStarted)
  },
)
