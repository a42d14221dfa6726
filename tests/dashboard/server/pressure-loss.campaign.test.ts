import { expect, it } from 'vitest'
import { PressureLoss, type SectionNow } from '#dashboard/server/session/pressure-watch.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { playBench } from '#tests/validation/worlds/play-bench.ts'

/** The page looks at a running hold about so often, [s]. */
const lookEveryS = 5
const holds = 120

/** What is called lost in one hold as the page watches it: while it holds, and at its vent. */
function watched(seed: number): { inHold: boolean; atVentS: number | null } {
  const sort = seed % 2 === 0 ? 'line' : 'tank'
  const { system: text, recording, truth, bench } = playBench({ seed, sort, fault: 'none', leak: seed % 4 })
  const system = systemFromFile(text, 'bench.yaml')
  const { channels, marks } = readRecording(Buffer.from(recording), system, 'bench.lp')
  const of = (measures: string) => {
    const channel = system.channels.find((one) => one.measures === measures)
    return channels.find((one) => one.channel === channel?.id)
  }
  const [gauge, thermometer] = [of('gauge-pressure')!, of('temperature')]
  const began = (name: string) =>
    marks.find(({ kind, fields }) => kind === 'stage' && fields.name === name)!.timeS
  const [holdS, ventS] = [began('hold'), began('vent')]
  // The bound of the interval is above the true rate: to take the rate itself can only call more.
  const fallPaPerS = truth.dropPa / bench.hold.holdS
  const loss = new PressureLoss()
  let lookedAtS = Number.NEGATIVE_INFINITY
  let warmth = 0
  for (let k = 0; k < gauge.timeS.length; k++) {
    const timeS = gauge.timeS[k]
    if (timeS < holdS) continue
    while (thermometer && warmth + 1 < thermometer.timeS.length && thermometer.timeS[warmth + 1] <= timeS)
      warmth++
    const gaugePa = gauge.reading[k]
    const temperatureK = thermometer ? thermometer.reading[warmth] : null
    const now: SectionNow[] = [
      { section: 'section', timeS, gaugePa, absolutePa: gaugePa + 101_325, temperatureK },
    ]
    if (timeS < ventS && timeS - lookedAtS >= lookEveryS) {
      loss.anchor(now, fallPaPerS)
      lookedAtS = timeS
    }
    if (loss.update(now)) return { inHold: timeS < ventS, atVentS: timeS < ventS ? null : timeS - ventS }
  }
  return { inHold: false, atVentS: null }
}

it(`PressureLoss over ${holds} seeded holds, tight to three times the allowance: none is called lost in the hold, every vent is`, () => {
  const seen = Array.from({ length: holds }, (_, n) => watched(61_001 + n))
  expect(seen.filter(({ inHold }) => inHold)).toEqual([])
  const called = seen.flatMap(({ atVentS }) => atVentS ?? [])
  expect(called).toHaveLength(holds)
  expect(Math.max(...called)).toBeLessThan(60)
})
