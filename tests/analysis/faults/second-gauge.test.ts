import { describe, expect, it } from 'vitest'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { plainHold, plainText } from '#tests/analysis/fit/plain-bench.ts'

/** A second gauge on the line, in a field of its own. */
const secondChannel = `
  - id: p-rig
    measures: gauge-pressure
    section: left-feed
    from: { measurement: logger, field: p1b }
    unit: psi
    range: -3 psi to 30 psi`

/** A line with so much leak, judged by its first gauge, while the second shows what `second` makes of it, [psi]. */
function judged(leak: number, second: (psi: number, timeS: number, holdS: number) => number) {
  const hold = plainHold('line', { leak })
  const system = systemFromFile(hold.system.replace('\n  - id: p-tank', `${secondChannel}$&`), 'plain.yaml')
  let row = 0
  const text = plainText(hold, 'line').replaceAll(/^logger p1=(\S+?),/gm, (line, psi: string) => {
    const { timeS } = hold.rows[row++]
    return `${line}p1b=${second(Number(psi), timeS, hold.times.holdS).toFixed(4)},`
  })
  expect(row).toBe(hold.rows.length)
  const [{ result }] = analyzeRecording(readRecording(text, system, 'plain.lp'), system)
  return { verdict: result.verdict, codes: result.reasons.map(({ code }) => code) }
}

describe('a second gauge on the section', () => {
  it('says nothing while it agrees, were it also of another zero and another gain', () => {
    const { verdict, codes } = judged(0, (psi) => 1.01 * psi + 0.05)
    expect(verdict).toBe('pass')
    expect(codes).not.toContain('gauges-disagree')
    expect(codes).not.toContain('gauge-not-used')
  })

  it('is left out with a caution where it never rose: it was not on the section', () => {
    const { verdict, codes } = judged(0, (_, timeS) => 0.002 * Math.sin(7 * timeS))
    expect(verdict).toBe('pass')
    expect(codes).toContain('gauge-not-used')
  })

  it.each([1, 2, 5])(
    'blocks the pass where it lost %d × the allowance and the first gauge nothing',
    (leak) => {
      const { verdict, codes } = judged(0, (psi, timeS, holdS) =>
        timeS > holdS ? psi * (1 - (0.01 * leak * (timeS - holdS)) / 600) : psi,
      )
      expect(verdict).not.toBe('pass')
      expect(codes).toContain('gauges-disagree')
    },
  )

  it('cannot make a leaking line pass by standing still', () => {
    const { verdict, codes } = judged(2, (psi, timeS, holdS) =>
      timeS > holdS && timeS < holdS + 600 ? 10 + 0.002 * Math.sin(7 * timeS) : psi,
    )
    expect(verdict).not.toBe('pass')
    expect(codes).toContain('gauges-disagree')
  })
})
