import { rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import type { Worker } from 'node:worker_threads'
import { afterEach, describe, expect, it } from 'vitest'
import { AnalysisThread } from '#dashboard/server/session/analysis-thread.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { emptyFolder } from '#tests/empty-folder.ts'
import { until } from './until.ts'

const text = `stillhold: 1
name: one gauge
channels:
  - { id: p, measures: gauge-pressure, section: line, from: { measurement: logger, field: p }, unit: Pa }
sections:
  - { id: line, medium: air, volume: 0.35 L, max-pressure: 15 psi }
`
const system = systemFromFile(text, 'one gauge')

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

  it('reads a recording of the disk once: its marks without the state sheet, its photos, its columns', async () => {
    const path = join(emptyFolder(), 'bench.lp')
    const at = (s: number) => `${1767225600 + s}000000000`
    const lines = [
      '# stillhold recording 1',
      `logger p=5 ${at(0)}`,
      `mark,kind=note text="checked: plugged; vented" ${at(1)}`,
      `mark,kind=note,id=F1 text="photo",photo="a.jpg" ${at(2)}`,
      `mark,kind=look,id=F1 finding="dry" ${at(3)}`,
      `logger p=7 ${at(4)}`,
    ]
    writeFileSync(path, `${lines.join('\n')}\n`)
    const own = thread(60_000)
    const mark = (timeS: number) => ({ timeS, time: `2026-01-01T00:00:0${timeS}.000Z`, id: 'F1' })
    expect(await own.ask('marks', path, text)).toEqual({
      marks: [
        { ...mark(2), kind: 'note', text: 'photo', photo: 'a.jpg' },
        { ...mark(3), kind: 'look', text: 'dry' },
      ],
      stateSheet: ['plugged', 'vented'],
    })
    const columns = (fromS: number, of = text) => own.ask('columns', path, of, fromS, 9, 100)
    expect(await columns(0)).toEqual([{ channel: 'p', timeS: [0, 4], low: [5, 7], high: [5, 7] }])
    rmSync(path)
    expect(await columns(1)).toEqual([{ channel: 'p', timeS: [4], low: [7], high: [7] }])
    await expect(columns(1, `${text}\n`)).rejects.toThrow('bench.lp')
    writeFileSync(path, `${[lines[0], ...lines.slice(3)].join('\n')}\n`)
    expect((await own.ask('marks', path, text)).stateSheet).toEqual([])
  })

  it('tells who waits why the thread died, such as of memory, and answers the next question with another', async () => {
    const own = thread(60_000)
    const started = new Promise<Worker>((resolve) => process.once('worker', resolve))
    const waits = own.ask('ledger', system, [])
    const worker = await started
    // As Node.js does where a worker needs more memory than it may have.
    worker.emit('error', new Error('the heap is full'))
    await expect(waits).rejects.toThrow('the heap is full')
    await worker.terminate()
    const next = own.ask('ledger', system, [])
    expect((await next).system).toBe('one gauge')
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
