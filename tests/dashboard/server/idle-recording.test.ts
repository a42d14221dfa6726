import { describe, expect, it } from 'vitest'
import type { Mark, MarkKind } from '#analysis/model/samples.ts'
import { IdleRecording } from '#dashboard/server/idle-recording.ts'
import { SessionMarks } from '#dashboard/server/session-marks.ts'

const hourS = 3600

/** A recording that grows by so many bytes a second, and which files it came to. */
function bench(bytesPerS: number) {
  const marks = new SessionMarks()
  const files: string[][] = [[]]
  let beganS = 0
  let nowS = 0
  const recording = {
    get sizeBytes() {
      return (nowS - beganS) * bytesPerS
    },
    rotate() {
      files.push([])
      beganS = nowS
      return null
    },
    mark({ kind }: { kind: MarkKind }, timeNs: bigint) {
      files.at(-1)!.push(`${kind} at ${timeNs} ns`)
    },
  }
  const idle = new IdleRecording(recording, marks)
  return {
    files,
    mark(kind: MarkKind, fields: Mark['fields'] = {}) {
      marks.add({ timeNs: String(nowS), timeS: nowS, kind, id: 'F1', hold: null, fields })
    },
    pass(seconds: number, lastHoldEndedS = Number.NEGATIVE_INFINITY) {
      for (const untilS = nowS + seconds; nowS < untilS; ) {
        nowS += 5
        idle.endWhenOld(nowS, lastHoldEndedS)
      }
    },
    endHold() {
      recording.rotate()
      return nowS
    },
  }
}

describe('IdleRecording.endWhenOld(time)', () => {
  it('ends a recording without a hold each half hour', () => {
    const own = bench(1000)
    own.pass(3 * hourS)
    expect(own.files).toHaveLength(7)
  })

  it('keeps what was done by hand in one file with the hold that comes after it', () => {
    const own = bench(1000)
    own.pass(600)
    own.mark('work', { action: 'remake' })
    own.pass(17 * hourS)
    expect(own.files).toHaveLength(1)
  })

  it('does so at a fast logger too by writing it at the head of the next file, for as long as it takes', () => {
    const own = bench(100_000)
    own.pass(600)
    own.mark('work', { action: 'remake' })
    own.mark('zero', { reading: 12 })
    own.pass(3 * hourS)
    expect(own.files).toHaveLength(7)
    for (const file of own.files.slice(1)) expect(file).toEqual(['work at 600 ns', 'zero at 600 ns'])
  })

  it('does not hold a file open for what the program notes itself', () => {
    const own = bench(1000)
    own.pass(600)
    own.mark('note', { port: 'bench', text: 'bench speaks csv' })
    own.mark('gap', { seconds: 3 })
    own.mark('fault', { code: 'silent' })
    own.mark('clock', { seconds: 7 })
    own.pass(3 * hourS)
    expect(own.files).toHaveLength(7)
  })

  it('ends recordings after a hold as before it, and carries nothing over from before the hold', () => {
    const own = bench(1000)
    own.pass(600)
    own.mark('work', { action: 'remake' })
    own.pass(600)
    own.mark('stage', { name: 'end' })
    const endedS = own.endHold()
    own.pass(3 * hourS, endedS)
    expect(own.files).toHaveLength(8)
    expect(own.files.flat()).toEqual([])
  })

  it('goes on when the clock was set back', () => {
    const marks = new SessionMarks()
    let ended = 0
    const recording = { sizeBytes: 0, rotate: () => String(ended++), mark: () => undefined }
    const idle = new IdleRecording(recording, marks)
    for (let s = 0; s < 1000; s += 5) idle.endWhenOld(50_000 + s, Number.NEGATIVE_INFINITY)
    for (let s = 0; s < 2 * hourS; s += 5) idle.endWhenOld(s, Number.NEGATIVE_INFINITY)
    expect(ended).toBe(4)
  })
})
