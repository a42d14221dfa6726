import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { thermometerStill } from '#analysis/faults/temperature.ts'
import type { Recording } from '#analysis/model/samples.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { readSystemFile } from '#ingest/system-file/read-system-file.ts'
import { demoRecordingPath, floatplaneText } from '#tests/dashboard/archive/sealed-hold.ts'

const floatplane = readSystemFile(floatplaneText, 'floatplane.yaml').system!
const read = (name: string) => readRecording(readFileSync(demoRecordingPath(name)), floatplane, name)

function found(recording: Recording) {
  const [{ result }] = analyzeRecording(recording, floatplane, { hold: 'feed-lines-10psi' })
  return { verdict: result.verdict, codes: result.reasons.map(({ code }) => code) }
}

/** The thermometer of the lines hangs on what it last read, from a time on. */
function hangs(recording: Recording, fromS: number): Recording {
  const channels = recording.channels.map((each) => {
    if (each.channel !== 't-lines') return each
    const at = each.timeS.findIndex((timeS) => timeS >= fromS)
    return { ...each, reading: each.reading.map((value, i) => (i < at ? value : each.reading[at])) }
  })
  return { ...recording, channels }
}

describe('analyzeRecording(a hold whose thermometer hangs)', () => {
  const tight = read('lines-retest')

  it('passes with the thermometer alive: what follows tests the thermometer and not the hold', () => {
    expect(found(tight).verdict).toBe('pass')
  })

  it.each([
    ['from the beginning', 0],
    ['from the hold on', 240],
    ['from the middle of the hold on', 550],
  ])('does not pass when it hangs %s: warming gas would hide a leak', (_, fromS) => {
    expect(found(hangs(tight, fromS))).toMatchObject({
      verdict: 'void',
      codes: expect.arrayContaining(['thermometer-still']),
    })
  })

  it('passes with a caution where the file states steps of 0.0625 degC, in which a live one stands still too', () => {
    const coarse = readSystemFile(
      floatplaneText.replace(/(- id: t-lines\b[\s\S]*?unit: degC)/, '$1\n    resolution: 0.0625 K'),
      'floatplane.yaml',
    ).system!
    const still = hangs(tight, 0)
    const [{ result }] = analyzeRecording(still, coarse, { hold: 'feed-lines-10psi' })
    expect(result.verdict).toBe('pass')
    expect(result.reasons.map(({ code }) => code)).toContain('thermometer-still')
  })

  it('still fails a leak', () => {
    expect(found(hangs(read('lines-leak'), 0)).verdict).toBe('fail')
  })
})

describe('analyzeRecording(a hold whose thermometer hangs in the air: `on: air`)', () => {
  const onAir = readSystemFile(
    floatplaneText.replace(/(- id: t-lines\b[\s\S]*?unit: degC)/, '$1\n    on: air'),
    'floatplane.yaml',
  ).system!
  const retest = readRecording(readFileSync(demoRecordingPath('lines-retest')), onAir, 'lines-retest')
  const withAir = (kelvinOver: number): Recording => ({
    ...retest,
    channels: retest.channels.map((each) =>
      each.channel === 't-lines'
        ? { ...each, reading: each.reading.map((value, i) => value + (kelvinOver * i) / each.reading.length) }
        : each,
    ),
  })
  const foundOn = (recording: Recording) =>
    analyzeRecording(recording, onAir, { hold: 'feed-lines-10psi' })[0].result

  it('says so beside the verdict while the air stays even', () => {
    const { verdict, reasons } = foundOn(retest)
    expect(verdict).toBe('pass')
    expect(reasons.map(({ code }) => code)).toContain('thermometer-in-air')
  })

  it('does not pass when the air moved by more than the allowance can bear', () => {
    const { verdict, reasons } = foundOn(withAir(4))
    expect(verdict).not.toBe('pass')
    expect(reasons.find(({ code }) => code === 'thermometer-in-air')?.values?.share).toBeGreaterThan(0.25)
  })
})

describe('thermometerStill(times, readings, 0, 600)', () => {
  const timeS = Float64Array.from({ length: 600 }, (_, i) => i)
  const still = (reading: (i: number) => number) =>
    thermometerStill(
      timeS,
      timeS.map((_, i) => reading(i)),
      0,
      600,
    )

  it('is false for one that is alive: noise of a step, or a slow drift in steps', () => {
    expect(still((i) => 293 + 0.0625 * ((i * 7) % 3))).toBe(false)
    expect(still((i) => 293 + 0.1 * Math.floor(i / 200))).toBe(false)
  })

  it('is true for one reading throughout, and for 200 s of it among noise', () => {
    expect(still(() => 293)).toBe(true)
    expect(still((i) => (i < 400 ? 293 + 0.0625 * ((i * 7) % 3) : 293))).toBe(true)
  })

  it('is false for a coarse one that moved by its step elsewhere in the recording, true for a fine one that did', () => {
    const heldFrom = (step: number) =>
      thermometerStill(
        timeS,
        timeS.map((t) => (t < 60 ? 293 + step : 293)),
        60,
        600,
      )
    expect(heldFrom(0.0625)).toBe(false)
    expect(heldFrom(0.01)).toBe(true)
  })

  it('is false for fewer than 30 readings, which may be equal by chance', () => {
    const few = Float64Array.from({ length: 29 }, (_, i) => 20 * i)
    expect(
      thermometerStill(
        few,
        few.map(() => 293),
        0,
        600,
      ),
    ).toBe(false)
  })
})
