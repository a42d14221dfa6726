import { describe, expect, it } from 'vitest'
import type { SeenField } from '#dashboard/api.ts'
import {
  atmosphereUnit,
  guessGauge,
  guessThermometer,
  type Watched,
  whoMoved,
} from '#dashboard/web/setup/who-moved.ts'

const seen = (field: string, unit?: string): SeenField => ({
  ...{ measurement: 'logger', field, tags: {}, raw: 0, timeS: 0, channel: null },
  ...(unit && { unit }),
})
const watched = (field: string, rest: number[], since: number[]): Watched => ({
  seen: seen(field),
  rest,
  since,
})

describe('whoMoved(watched)', () => {
  it('finds the number that moved among a line number, a barometer and a thermometer', () => {
    const all = [
      watched('n', [1, 2, 3, 4, 5], [6, 7, 200]),
      watched('baro', [1013.2, 1013.3, 1013.2, 1013.2], [1013.4, 1013.1]),
      watched('t', [20.1, 20.2, 20.1, 20.1], [20.2, 20.3]),
      watched('p', [0.01, 0.02, 0.01, 0.01], [0.4, 1.8, 0.6, 0.03, 0.02]),
    ]
    expect(whoMoved(all)).toMatchObject([{ seen: { field: 'p' }, rest: 0.01, peak: 1.8 }])
  })

  it('waits until the number stands still: half a squeeze would be taken for another unit', () => {
    const squeezed = (since: number[]) => whoMoved([watched('p', [0.01, 0.02, 0.01, 0.01], since)])
    expect(squeezed([0.2, 0.35])).toEqual([])
    expect(squeezed([0.2, 0.35, 1.6, 1.61])).toMatchObject([{ peak: 1.61 }])
  })

  it('names two gauges on one hose, the clearer first, and nothing before there is a rest to compare with', () => {
    const two = [watched('p1', [0, 0.1, 0, 0], [2]), watched('p2', [0, 0.01, 0, 0], [2])]
    expect(whoMoved(two).map((one) => one.seen.field)).toEqual(['p2', 'p1'])
    expect(whoMoved([watched('p', [0, 0], [2])])).toEqual([])
  })
})

describe('guessGauge(mover, barometer, largest test pressure)', () => {
  const gauge = (rest: number, peak: number, barometerPa: number | null = null, unit?: string) =>
    guessGauge({ seen: seen('p', unit), rest, peak }, barometerPa, 68_948)

  // A breath or a bulb makes about 10 kPa; 10 psi is 68,948 Pa (NIST SP 811).
  it.each([
    [0.01, 1.5, 'psi', '0 psi to 15 psi'],
    [0.1, 9, 'kPa', '0 kPa to 100 kPa'],
    [0, 110, 'hPa', '0 hPa to 1000 hPa'],
    [0, 0.1, 'bar', '0 bar to 1 bar'],
  ])('a gauge that rests at %d and goes to %d sends %s', (rest, peak, unit, range) => {
    expect(gauge(rest, peak)).toMatchObject({ measures: 'gauge-pressure', unit, range })
  })

  it.each([
    [14.69, 'psi'],
    [1013, 'hPa'],
    [101.3, 'kPa'],
    [29.9, 'inHg'],
    [101_325, 'Pa'],
  ])('a gauge that rests at %d reads the atmosphere in %s', (rest, unit) => {
    expect(gauge(rest, rest * 1.1)).toMatchObject({ measures: 'absolute-pressure', unit })
  })

  it('the barometer decides whether a resting number is the atmosphere', () => {
    expect(atmosphereUnit(850, null)).toBe('hPa')
    expect(atmosphereUnit(850, 101_300)).toBeNull()
    expect(atmosphereUnit(850, 85_200)).toBe('hPa')
  })

  it('takes the unit that the logger writes, and doubts volts', () => {
    expect(gauge(0.01, 1.5, null, 'kPa').unit).toBe('kPa')
    expect(gauge(0.5, 0.9).why).toContain('volts or counts')
  })
})

describe('guessThermometer(mover)', () => {
  it.each([
    [21, 'degC'],
    [70, 'degF'],
    [294, 'K'],
  ])('a thermometer that rests at %d sends %s', (rest, unit) => {
    expect(guessThermometer({ seen: seen('t'), rest, peak: rest + 5 }).unit).toBe(unit)
  })
})
