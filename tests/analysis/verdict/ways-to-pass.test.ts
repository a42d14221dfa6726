import { readFileSync } from 'node:fs'
import { expect, it } from 'vitest'
import type { SectionLeak } from '#analysis/model/hold-result.ts'
import type { Recording } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { readSystemFile } from '#ingest/system-file/read-system-file.ts'
import { demoRecordingPath, floatplaneText } from '#tests/dashboard/archive/sealed-hold.ts'

const hold = 'feed-lines-10psi'
const system = readSystemFile(floatplaneText, 'floatplane.yaml').system!
/** Tight; stated for 600 s, which it holds from 244 s on. */
const tight = readRecording(readFileSync(demoRecordingPath('lines-retest')), system, 'lines-retest.lp')
const holdMark = tight.marks.find(({ kind, fields }) => kind === 'stage' && fields.name === 'hold')!
const ventMark = tight.marks.find(({ kind, fields }) => kind === 'stage' && fields.name === 'vent')!

/** The same recording with the hold begun later, so that it lasted a share of its stated time. */
function lasting(share: number): Recording {
  const timeS = ventMark.timeS - share * 600
  const timeNs = String(BigInt(tight.startNs) + BigInt(Math.round(timeS * 1e9)))
  const marks = tight.marks.map((mark) => (mark === holdMark ? { ...mark, timeS, timeNs } : mark))
  return { ...tight, marks }
}

/** An allowance so wide that nearly any hold lies under it. */
const lax: System = {
  ...system,
  holds: system.holds.map((spec) =>
    spec.id === hold && 'dropPa' in spec.allow
      ? { ...spec, allow: { ...spec.allow, dropPa: 20 * spec.allow.dropPa } }
      : spec,
  ),
}

function found(recording: Recording, of: System = system) {
  const [{ result }] = analyzeRecording(recording, of, { hold })
  const { low, high } = (result.leak as SectionLeak).drop_Pa
  return {
    verdict: result.verdict,
    codes: result.reasons.map(({ code }) => code),
    widthPa: high - low,
    result,
  }
}

it('analyzeRecording(a fifth of the stated time) does not pass, even far under the allowance', () => {
  const short = found(lasting(0.2), lax)
  expect(short).toMatchObject({
    verdict: 'undecided',
    codes: expect.arrayContaining(['hold-too-short']),
  })
  // A quarter of 600 s is 150 s; 120 s were held, less the last reading's second.
  expect([30, 31]).toContain(short.result.needs_seconds_more)
  expect(found(lasting(0.3), lax).verdict).toBe('pass')
})

it('analyzeRecording(a hold ended early) takes a wider interval: to stop when it looks good gains nothing', () => {
  const early = found(lasting(0.94), lax)
  const whole = found(lasting(0.96), lax)
  expect(early.result.seconds).toBeCloseTo(564, 0)
  expect(early.widthPa).toBeGreaterThan(1.4 * whole.widthPa)
})

it('analyzeRecording(most of the pressure gone before the hold) does not pass: a coarse leak has emptied it', () => {
  const channels = tight.channels.map((each) =>
    each.channel === 'p-lines'
      ? { ...each, reading: each.reading.map((value, i) => (each.timeS[i] > 200 ? 0.5 * value : value)) }
      : each,
  )
  expect(found({ ...tight, channels }, lax)).toMatchObject({
    verdict: 'void',
    codes: expect.arrayContaining(['pressure-lost-before-hold']),
  })
})
