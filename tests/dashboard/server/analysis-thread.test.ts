import { afterEach, describe, expect, it } from 'vitest'
import { AnalysisThread } from '#dashboard/server/session/analysis-thread.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { until } from './until.ts'

const system = systemFromFile(
  `stillhold: 1
name: one gauge
channels:
  - { id: p, measures: gauge-pressure, section: line, from: { measurement: logger, field: p }, unit: Pa }
sections:
  - { id: line, medium: air, volume: 0.35 L, max-pressure: 15 psi }
`,
  'one gauge',
)

describe('AnalysisThread', () => {
  const threads: AnalysisThread[] = []
  const thread = (endAfterMs: number) => {
    const made = new AnalysisThread(endAfterMs)
    threads.push(made)
    return made
  }
  afterEach(() => Promise.all(threads.splice(0).map((each) => each.close())))

  it('gives its memory back when it has nothing to do, and answers the next question all the same', async () => {
    const own = thread(20)
    await own.ask('ledger', system, [])
    expect(await until(() => !own.running)).toBe(true)
    // No wait in between: the thread that was told to end has not ended yet.
    expect((await own.ask('ledger', system, [])).system).toBe('one gauge')
  })

  it('keeps a running hold however long no reading comes, and ends after it', async () => {
    const own = thread(20)
    own.tell('begin', system, 'hold.lp', '0')
    const timeS = Float64Array.of(0, 1, 2)
    own.tell('append', { p: { timeS, reading: Float64Array.of(5, 5, 5) } })
    await new Promise((resolve) => setTimeout(resolve, 300))
    expect(own.running).toBe(true)
    own.tell('end')
    expect(await until(() => !own.running)).toBe(true)
  })
})
