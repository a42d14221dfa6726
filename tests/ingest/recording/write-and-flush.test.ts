import fs, { statSync } from 'node:fs'
import { syncBuiltinESMExports } from 'node:module'
import { join } from 'node:path'
import { describe, expect, it, vi } from 'vitest'
import { openRecording } from '#ingest/recording/recording-writer.ts'
import { emptyFolder } from '#tests/empty-folder.ts'
import { linesOf } from './lines-of.ts'

const folder = emptyFolder()
const clock = () => ({ wallNs: 1_767_225_600_000_000_000n, monotonicNs: 5_000n })

describe('openRecording', () => {
  it('writes 64 kB that wait at once', () => {
    const path = join(folder, 'a.lp')
    const writer = openRecording(path, { clock })
    const size = () => statSync(path).size
    const before = size()
    for (let n = 0; n < 64; n++) writer.comment('x'.repeat(1021))
    expect(size()).toBe(before)
    writer.comment('x')
    expect(size()).toBe(before + 65_536 + 4)
    writer.close()
  })

  it('writes a line after 100 ms and flushes it to the disk a second later, by the timers that it sets', async () => {
    const real = fs.fdatasync
    let forced = 0
    const flushed = new Promise<void>((resolve) => {
      Object.assign(fs, {
        fdatasync: (file: number, done: (error: NodeJS.ErrnoException | null) => void) => {
          forced++
          real(file, (error) => {
            done(error)
            resolve()
          })
        },
      })
    })
    syncBuiltinESMExports()
    vi.useFakeTimers()
    try {
      const path = join(folder, 'b.lp')
      const writer = openRecording(path, { clock })
      vi.advanceTimersByTime(10_000)
      forced = 0
      writer.append('logger p1=1 1767225600000000000')
      vi.advanceTimersByTime(99)
      expect(linesOf(path)).toHaveLength(2)
      vi.advanceTimersByTime(1)
      expect(linesOf(path)).toHaveLength(3)
      vi.advanceTimersByTime(999)
      expect(forced).toBe(0)
      vi.advanceTimersByTime(1)
      expect(forced).toBe(1)
      await flushed
      vi.advanceTimersByTime(10_000)
      expect(forced).toBe(1)
      writer.close()
    } finally {
      vi.useRealTimers()
      Object.assign(fs, { fdatasync: real })
      syncBuiltinESMExports()
    }
  })
})
