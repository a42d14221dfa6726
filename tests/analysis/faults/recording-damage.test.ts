import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { readSystemFile } from '#ingest/system-file/read-system-file.ts'
import { demoRecordingPath, floatplaneText } from '#tests/dashboard/archive/sealed-hold.ts'

const floatplane = readSystemFile(floatplaneText, 'floatplane.yaml').system!

const tight = readFileSync(demoRecordingPath('lines-retest'))
const leaking = readFileSync(demoRecordingPath('lines-leak'))
const hold = 'feed-lines-10psi'

function found(bytes: Uint8Array) {
  const [{ result }] = analyzeRecording(readRecording(bytes, floatplane, 'damaged.lp'), floatplane, { hold })
  return { verdict: result.verdict, codes: result.reasons.map(({ code }) => code) }
}

/** A block of zeros as a disk leaves it: it swallows line ends and joins two lines. */
function zeroed(bytes: Buffer, at: number, length = 512): Buffer {
  return Buffer.concat([bytes.subarray(0, at), Buffer.alloc(length), bytes.subarray(at + length)])
}

const ventAt = tight.indexOf('name="vent"')

describe('analyzeRecording(a recording with unreadable lines)', () => {
  it('passes whole: what follows tests the damage and not the hold', () => {
    expect(found(tight).verdict).toBe('pass')
  })

  it.each([0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.98])(
    'does not pass with 512 zeroed bytes %f of the way to the vent',
    (share) => {
      const { verdict, codes } = found(zeroed(tight, Math.floor(share * ventAt)))
      expect(verdict).toBe('void')
      expect(codes).toContain('recording-damaged')
    },
  )

  it('does not pass where one zero byte stands in a sample, or in a comment that swallows the marks after it', () => {
    expect(found(zeroed(tight, Math.floor(ventAt / 2), 1)).verdict).toBe('void')
    const lineEnd = tight.indexOf('\n', Math.floor(ventAt / 2))
    const valve = 'mark,kind=valve,id=v open=true 1\n'
    const comment = Buffer.from(`# all well\0${valve}`)
    const bytes = Buffer.concat([tight.subarray(0, lineEnd + 1), comment, tight.subarray(lineEnd + 1)])
    expect(found(bytes)).toMatchObject({
      verdict: 'void',
      codes: expect.arrayContaining(['recording-damaged']),
    })
  })

  it('is judged as ever when only lines behind the vent are unreadable', () => {
    const behind = tight.indexOf('\n', tight.indexOf('\nlogger', ventAt) + 200) + 1
    expect(found(zeroed(tight, behind)).codes).not.toContain('recording-damaged')
  })

  it('still fails a leak', () => {
    const { verdict, codes } = found(zeroed(leaking, Math.floor(leaking.indexOf('name="vent"') / 2)))
    expect(verdict).toBe('fail')
    expect(codes).toContain('recording-damaged')
  })
})
