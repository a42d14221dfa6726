import { expect, test } from 'vitest'
import { simulateHold } from '#tests/simulator/simulate-hold.ts'
import { situations } from '#tests/simulator/situations.ts'
import { pressureOverTemperature, rawDrop } from './naive-methods.ts'

/** A steady line hold whose readings are replaced by an exact course of gauge and temperature. */
function exact(gaugePa: (timeS: number) => number, temperatureK: (timeS: number) => number) {
  const situation = situations.find(({ name }) => name === 'no-barometer')
  if (situation === undefined) throw new Error('there is no such situation')
  const { recording, system } = simulateHold(situation.scenario(2, 0, 'line'), 2)
  const from = recording.marks[2].timeS
  const channels = recording.channels.map((samples) => ({
    ...samples,
    reading: samples.timeS.map((timeS) =>
      samples.channel === 'p-bench' ? gaugePa(timeS - from) : temperatureK(timeS - from),
    ),
  }))
  return { recording: { ...recording, channels }, system, holdS: system.holds[0].holdS }
}

test('both methods find a straight fall of 0.5 Pa/s at one temperature exactly', () => {
  const { recording, system, holdS } = exact(
    (timeS) => 70000 - 0.5 * timeS,
    () => 293.15,
  )
  expect(pressureOverTemperature(recording, system).dropPa).toBeCloseTo(0.5 * holdS, 6)
  // The raw drop goes from the mean of the first ten seconds to that of the last ten.
  expect(rawDrop(recording, system).dropPa / (0.5 * (holdS - 10))).toBeCloseTo(1, 2)
})

test('p/T takes out the warming of a rigid tight volume (p ∝ T, ideal gas), the raw drop takes it for a gain', () => {
  const { recording, system } = exact(
    (timeS) => 171325 * (1 + (0.001 * timeS) / 293.15) - 101325,
    (timeS) => 293.15 + 0.001 * timeS,
  )
  expect(Math.abs(pressureOverTemperature(recording, system).dropPa)).toBeLessThan(1e-6)
  expect(rawDrop(recording, system).dropPa).toBeLessThan(-300)
})

test('p/T decides by its own interval: exact data far under or over the allowance pass or fail', () => {
  const fall = (paPerS: number) =>
    exact(
      (timeS) => 70000 - paPerS * timeS,
      () => 293.15,
    )
  const tight = fall(0)
  expect(pressureOverTemperature(tight.recording, tight.system).verdict).toBe('pass')
  const open = fall(50)
  expect(pressureOverTemperature(open.recording, open.system).verdict).toBe('fail')
})
