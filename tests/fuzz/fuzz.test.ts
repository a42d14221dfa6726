import { describe, expect, it } from 'vitest'
import { allTargets } from './all-targets.ts'
import { runTarget } from './run-target.ts'

describe('mutated bytes', async () => {
  for (const { target, quick } of await allTargets()) {
    it(`${target.name}: ${quick} inputs bring no crash, no hang and no pass of what was changed`, async () => {
      expect((await runTarget(target, quick, 11)).faults).toEqual([])
    }, 120_000)
  }
})
