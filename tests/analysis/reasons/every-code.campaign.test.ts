import { readdirSync, readFileSync } from 'node:fs'
import { describe, expect, it, test } from 'vitest'
import type { HoldResult } from '#analysis/model/hold-result.ts'
import { phrases } from '#analysis/reasons/phrases.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { withTwin } from '#tests/analysis/fit/twin-vessel.ts'
import { simulateHold } from '#tests/simulator/simulate-hold.ts'
import { situations } from '#tests/simulator/situations.ts'
import { playLiquid } from '#tests/validation/liquid-situations.ts'
import { type BenchPlan, playBench } from '#tests/validation/worlds/play-bench.ts'

/**
 * What a rig's own record says; the last resorts, which speak only where no check of the gauge does; and a vessel that is
 * used at another pressure, which no world has.
 */
const besideAHold = [
  'rig-leaks',
  'pressure-implausible',
  'readings-not-explained',
  'reference-vessel-pressure',
] as const

const file = (name: string) => readFileSync(new URL(`../../../recordings/${name}`, import.meta.url), 'utf8')
const floatplane = file('floatplane.yaml')

function demo(name: string, edit: (text: string) => string = (text) => text, hold?: string): HoldResult {
  const system = systemFromFile(edit(floatplane), 'floatplane.yaml')
  return analyzeRecording(readRecording(file(`${name}.lp`), system, name), system, hold ? { hold } : {})[0]
    .result
}

function world(
  plan: BenchPlan,
  edit: (recording: string) => string = (text) => text,
  editSystem: (system: string) => string = (text) => text,
): HoldResult {
  const played = playBench(plan)
  const system = systemFromFile(editSystem(played.system), 'world.yaml')
  return analyzeRecording(readRecording(edit(played.recording), system, 'world.lp'), system)[0].result
}

/** The gauge's readings of a recording of the second world, changed. */
const gauge = (change: (kPa: number) => number) => (text: string) =>
  text.replaceAll(/p1=(-?[\d.]+)/g, (_, kPa) => `p1=${change(Number(kPa)).toFixed(5)}`)

/** A tank without a barometer, beside a closed vessel. */
function besideTwin(): HoldResult {
  const scenario = situations.find((one) => one.name === 'no-barometer')!.scenario(1, 0.5, 'tank')
  const twin = withTwin(simulateHold(scenario, 1), 1)
  return analyzeRecording(twin.recording, twin.system)[0].result
}

/** A hold for each reason that no other test raises; what is wrong with it is known from how it was made. */
const raised: Readonly<Record<string, () => HoldResult>> = {
  'longer-will-not-help': () => world({ fault: 'none', seed: 40030, leak: 0, sort: 'tank' }),
  'slope-changed': () => world({ fault: 'regulator-on', seed: 41048, leak: 4, sort: 'line' }),
  'leak-below-zero': () => world({ fault: 'regulator-on', seed: 41042, leak: 0.4, sort: 'line' }),
  'interval-too-wide': () => world({ fault: 'cock-shut-in-settle', seed: 40010, leak: 0, sort: 'tank' }),
  'drop-unexplained': () => world({ fault: 'supply-seeps', seed: 40054, leak: 1.2, sort: 'tank' }),
  'zero-drifted': () => world({ fault: 'zero-drifts', seed: 40026, leak: 2, sort: 'line' }),
  'proof-unclear': () => world({ fault: 'none', seed: 40002, leak: 0.4, sort: 'line', check: 'known-leak' }),
  'hold-guessed': () => demo('lines-no-stage-marks'),
  'settle-shortened': () =>
    demo('lines-retest', (text) => text.replaceAll('settle: 3 min', 'settle: 30 min')),
  'vacuum-too-deep': () =>
    world(
      { fault: 'none', seed: 2, leak: 0, sort: 'line' },
      gauge((kPa) => -0.8 * kPa),
      (text) =>
        text
          .replace('pressure: 15 psi', 'pressure: -12 psi')
          .replace(/range: .*/, 'range: -200 kPa to 206.843 kPa')
          .replace('max-pressure: 22.5 psi', 'max-pressure: 22.5 psi, max-vacuum: 14 psi')
          .replace('allow: { drop:', 'allow: { rise:'),
    ),
  'gauge-span-large': () => world({ fault: 'none', seed: 40000, leak: 0, sort: 'line' }),
  'gauge-coarse': () => world({ fault: 'none', seed: 40004, leak: 1.2, sort: 'line' }),
  'gauge-inaccurate': () => world({ fault: 'none', seed: 40000, leak: 0, sort: 'line' }),
  'temperature-not-measured': () =>
    world({ fault: 'none', seed: 2, leak: 0, sort: 'line' }, undefined, (text) =>
      text.replace(/.*id: t1,.*\n/, '').replace(/allow: .*/, 'allow: { drop: 5 psi }'),
    ),
  'liquid-temperature-moved': () => {
    const { recording, system } = playLiquid('swing, no stroke', 3, 0.5)
    return analyzeRecording(recording, system)[0].result
  },
  'pumped-during-hold': () => world({ fault: 'hose-clogged', seed: 40020, leak: 0, sort: 'line' }),
  'leak-changed': () => world({ fault: 'regulator-on', seed: 40000, leak: 0, sort: 'line' }),
  'leak-above-allowance': () => demo('lines-leak'),
  'reference-vessel-used': besideTwin,
  interrupted: () =>
    world({ fault: 'none', seed: 2, leak: 0, sort: 'line' }, (text) =>
      text.replace(
        /(mark,kind=stage name="vent" )(\d+)/,
        (vent, _, ns) =>
          `mark,kind=fault code="interrupted",text="lightning" ${BigInt(ns) - 60_000_000_000n}\n${vent}`,
      ),
    ),
}

describe('every reason that a hold can give', () => {
  test.each(Object.entries(raised))('%s is raised by a hold made for it, with a sentence', (code, hold) => {
    const { reasons } = hold()
    const codes = reasons.map((one) => one.code)
    expect(codes).toContain(code)
    const { message } = reasons.find((one) => one.code === code)!
    expect(message).toMatch(/^\S.*[.]$/)
    expect(message).not.toMatch(/undefined|NaN|null/)
  })

  it('is raised here or named by another test', () => {
    const folder = new URL('../../', import.meta.url)
    const tests = readdirSync(folder, { recursive: true, encoding: 'utf8' })
      .filter((name) => /\.test\.ts$/.test(name) && !name.endsWith('every-code.campaign.test.ts'))
      .map((name) => readFileSync(new URL(name.replaceAll('\\', '/'), folder), 'utf8'))
      .join('\n')
    const unnamed = Object.keys(phrases).filter(
      (code) =>
        !(code in raised) &&
        !(besideAHold as readonly string[]).includes(code) &&
        !tests.includes(`'${code}'`),
    )
    expect(unnamed).toEqual([])
  })
})
