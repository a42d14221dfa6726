import { describe, expect, it } from 'vitest'
import type { Mark } from '#analysis/model/samples.ts'
import { LiveZeros } from '#dashboard/server/session/live-channels.ts'
import { applyZeroMarks } from '#ingest/recording/apply-zero-marks.ts'
import { seededRandom } from '#ingest/simulator/random.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'

const [channel] = systemFromFile(
  `stillhold: 1
name: one gauge
channels:
  - { id: p, measures: gauge-pressure, section: line, from: { measurement: logger, field: p }, unit: Pa, range: 0 Pa to 2000 Pa }
sections:
  - { id: line, medium: air, volume: 0.35 L, max-pressure: 15 psi }
`,
  'one gauge',
).channels

const marked = (timeS: number, kind: Mark['kind'], fields: Mark['fields']): Mark => ({
  timeNs: String(timeS),
  timeS,
  kind,
  id: kind === 'zero' ? 'p' : null,
  hold: null,
  fields,
})
const stages = ['pump-up', 'settle', 'hold', 'vent', 'end']

describe('LiveZeros', () => {
  it('applies captures as they are applied when the recording is read, whatever stages stand between them', () => {
    for (let seed = 1; seed <= 40; seed++) {
      const random = seededRandom(seed)
      const marks = Array.from({ length: 60 }, (_, timeS) =>
        random.uniform(0, 1) < 0.3
          ? marked(timeS, 'zero', { reading: Math.round(random.uniform(-90, 90)) })
          : marked(timeS, 'stage', { name: stages[Math.floor(random.uniform(0, stages.length))] }),
      )
      const zeros = new LiveZeros()
      for (const mark of marks) zeros.add(mark)
      const timeS = Float64Array.from({ length: 70 }, (_, index) => index)
      const values = Float64Array.from({ length: 70 }, () => 500)
      const { reading: live } = zeros.applied(channel, { timeS, reading: values })
      applyZeroMarks(channel, { timeS, values }, marks)
      expect(live, `seed ${seed}`).toEqual(values)
    }
  })

  it('forgets nothing that counts under a stream of stage marks from a broken logger', () => {
    const zeros = new LiveZeros()
    zeros.add(marked(0, 'zero', { reading: 30 }))
    for (let timeS = 1; timeS < 50_000; timeS++) zeros.add(marked(timeS, 'stage', { name: 'vent' }))
    expect(zeros.one(channel, 60_000, 130)).toBe(100)
  })
})
