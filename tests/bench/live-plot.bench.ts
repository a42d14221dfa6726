import type { Browser, Page } from 'playwright-core'
import { browserPath, launch, open } from '#tests/browser/browser.ts'
import buildPage, { pageFolder } from '#tests/browser/build-page.ts'
import { quantiles, workPerFrame } from '#tests/browser/frame-work.ts'
import { type StandIn, startStandIn } from '#tests/browser/stand-in.ts'
import { stages } from '#tests/browser/stand-in-curve.ts'
import type { BenchPlan, Figures } from './bench-plan.ts'

/** A third of a frame at 60 Hz, [ms]: the rest is for whatever else the device does. */
const frameShareMs = 1000 / 60 / 3
/** How much more the page may cost after a day than after an hour. */
const growthAtMost = 1.1

export const plans: readonly BenchPlan[] = [
  async (quick) => {
    const [short, long, rounds, seconds] = quick ? [0.02, 0.1, 1, 2] : [1, 24, 5, 12]
    const name = `a hold of two sections in the page, 4 × 100 readings a second, at hour ${short} and hour ${long}`
    if (browserPath === null)
      return { kind: 'figures', name: `${name} (skipped: no chromium on the PATH)`, figures: [] }
    await buildPage()
    const browser = await launch()
    try {
      const early = await watched(browser, short)
      const late = await watched(browser, long)
      const figures = await compare(early, late, short, long, rounds, seconds)
      await early.bench.close()
      await late.bench.close()
      return { kind: 'figures', name, figures }
    } finally {
      await browser.close()
    }
  },
]

interface Watched {
  readonly page: Page
  readonly bench: StandIn
}

/** A page that has watched a hold for so many hours, told to it as fast as it takes it. */
async function watched(browser: Browser, hours: number): Promise<Watched> {
  const bench = await startStandIn({
    folder: pageFolder,
    readingsPerS: 100,
    several: true,
    lengthS: 100 * 3600,
  })
  bench.at(stages.holdS + 25)
  const { page } = await open(browser, bench.url)
  await page.waitForSelector('.section-decision')
  await bench.forward(stages.holdS + hours * 3600)
  await page.waitForTimeout(1000)
  bench.stall(true)
  return { page, bench }
}

/** Both in turns, the other one standing still, so that a busy machine slows both alike. */
async function compare(
  early: Watched,
  late: Watched,
  short: number,
  long: number,
  rounds: number,
  seconds: number,
): Promise<Figures['figures']> {
  const sides = [early, late].map((side) => ({ ...side, frames: [] as number[], means: [] as number[] }))
  for (let round = 0; round < rounds; round++) {
    for (const side of sides) {
      side.bench.stall(false)
      await side.page.waitForTimeout(1500)
      const frames = await workPerFrame(side.page, seconds)
      side.bench.stall(true)
      side.frames.push(...frames)
      side.means.push(frames.reduce((sum, one) => sum + one, 0) / frames.length)
    }
  }
  const [a, b] = sides
  const ratios = a.means.map((mean, round) => b.means[round] / mean).sort((x, y) => x - y)
  const memoryMB = [await usedMB(early.page), await usedMB(late.page)]
  const p99 = (frames: readonly number[]): number => quantiles(frames).p99_ms
  return [
    { name: `work a frame at hour ${short}, p99`, value: p99(a.frames), unit: 'ms', atMost: frameShareMs },
    { name: `work a frame at hour ${long}, p99`, value: p99(b.frames), unit: 'ms', atMost: frameShareMs },
    { name: 'work, late : early', value: ratios[rounds >> 1], unit: '×', atMost: growthAtMost },
    { name: `memory of the page at hour ${long}`, value: memoryMB[1], unit: 'MB', atMost: null },
    { name: 'memory, late : early', value: memoryMB[1] / memoryMB[0], unit: '×', atMost: growthAtMost },
  ]
}

/** What is alive in the page after a collection: script, its buffers and the document. */
async function usedMB(page: Page): Promise<number> {
  const cdp = await page.context().newCDPSession(page)
  await cdp.send('HeapProfiler.enable')
  for (let k = 0; k < 3; k++) await cdp.send('HeapProfiler.collectGarbage')
  const used = await cdp.send('Runtime.getHeapUsage')
  await cdp.detach()
  return (used.usedSize + used.embedderHeapUsedSize + used.backingStorageSize) / 1e6
}
