import { describe, expect, it } from 'vitest'
import type { Section } from '#analysis/model/system.ts'
import { PressureAlarms } from '#dashboard/server/session/pressure-watch.ts'

const tank: Section = {
  id: 'left-tank',
  medium: 'air',
  volumeM3: 0.075,
  volumeToleranceM3: 0.005,
  maxPressurePa: 10_000,
  maxVacuumPa: 2000,
  stretchPerPa: null,
  kind: null,
  capacityM3: null,
  unusableM3: null,
}

const codes = (watch: PressureAlarms) => watch.alarms().map(({ code }) => code)

describe('PressureAlarms', () => {
  it('update() over the section’s limit alarms until the pressure is 2 % under it', () => {
    const watch = new PressureAlarms(tank)
    watch.update(0, 10_000)
    expect(codes(watch)).toEqual([])
    watch.update(1, 10_001)
    expect(codes(watch)).toEqual(['over-pressure'])
    watch.update(2, 9900)
    expect(codes(watch)).toEqual(['over-pressure'])
    watch.update(3, 9700)
    expect(codes(watch)).toEqual([])
  })

  it('update() below the section’s vacuum limit alarms and says which way', () => {
    const watch = new PressureAlarms(tank)
    watch.update(0, -2001)
    expect(watch.alarms().map(({ message }) => message)).toEqual([
      'left-tank is over its limit of 2 kPa below the atmosphere: stop pumping and vent now.',
    ])
    const above = new PressureAlarms(tank)
    above.update(0, 10_001)
    expect(above.alarms().map(({ message }) => message)).toEqual([
      'left-tank is over its limit of 10 kPa: stop pumping and vent now.',
    ])
  })

  it('update() of a tank rising faster than 0.5 psi/min alarms; at 0.45 psi/min it does not (33 CFR 183.542 laboratory procedure)', () => {
    for (const [psiPerMin, expected] of [
      [0.6, ['ramp-too-fast']],
      [0.45, []],
    ] as const) {
      const watch = new PressureAlarms(tank)
      for (let timeS = 0; timeS < 20; timeS += 0.1) watch.update(timeS, (psiPerMin * 6894.757 * timeS) / 60)
      expect(codes(watch)).toEqual(expected)
      // 0.6 psi/min are 4.14 kPa a minute and 0.5 psi/min 3.45 (1 psi = 6.894757 kPa).
      if (psiPerMin > 0.5)
        expect(watch.alarms()[0].message).toBe(
          'left-tank rises by 4.14 kPa a minute; a tank takes 3.45 kPa a minute at most. Pump more slowly.',
        )
    }
  })

  it('update() of a line rising fast does not alarm: the ramp rule is for tanks', () => {
    const watch = new PressureAlarms({ ...tank, volumeM3: 0.000_35, maxPressurePa: 100_000 })
    for (let timeS = 0; timeS < 20; timeS += 0.1) watch.update(timeS, 3000 * timeS)
    expect(codes(watch)).toEqual([])
  })

  it('update() of a tank drawn down faster than 0.5 psi/min alarms too; its vent, which rises faster, does not', () => {
    const watch = new PressureAlarms({ ...tank, maxVacuumPa: 20_000 })
    const paPerS = (0.6 * 6894.757293) / 60
    for (let t = 0; t <= 12; t += 0.5) watch.update(t, -paPerS * t)
    expect(watch.alarms()[0]).toMatchObject({
      code: 'ramp-too-fast',
      message: expect.stringContaining('is drawn down by 4.14 kPa a minute'),
    })
    for (let t = 12; t <= 40; t += 0.5) watch.update(t, -paPerS * Math.max(0, 12 - 5 * (t - 12)))
    expect(codes(watch)).toEqual([])
  })
})
