import { mkdirSync, readdirSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { gzipSync } from 'node:zlib'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { browserPath, launch, open, withoutBrowser } from './browser.ts'
import { pageFolder } from './build-page.ts'
import { startStandIn } from './stand-in.ts'
import { stages } from './stand-in-curve.ts'

const note = (name: string, value: unknown): void => {
  const folder = join(pageFolder, '..')
  mkdirSync(folder, { recursive: true })
  writeFileSync(join(folder, `measured-${name}.json`), `${JSON.stringify(value, null, 2)}\n`)
}

test('the whole page weighs under 150 kB compressed: text by gzip, typefaces as they are', () => {
  const weights = readdirSync(pageFolder, { recursive: true, withFileTypes: true })
    .filter((one) => one.isFile())
    .map((one) => {
      const bytes = readFileSync(join(one.parentPath, one.name))
      return [one.name, one.name.endsWith('.woff2') ? bytes.length : gzipSync(bytes).length] as const
    })
  const total = weights.reduce((sum, [, bytes]) => sum + bytes, 0)
  note('weight', { total, files: Object.fromEntries(weights) })
  expect(total).toBeLessThan(150_000)
})

interface TraceEvent {
  readonly name: string
  readonly ph: string
  readonly pid: number
  readonly tid: number
  /** Begin, [µs]; processor time of the thread, [µs], which other programs of the machine do not add to. */
  readonly ts: number
  readonly tdur?: number
  readonly args: { readonly name?: string }
}

const frameUs = 1e6 / 60

/** Work of the page's main thread in each sixtieth of a second, [ms]: script, style, layout and painting. */
async function workPerFrame(page: Page, seconds: number): Promise<number[]> {
  const cdp = await page.context().newCDPSession(page)
  const events: TraceEvent[] = []
  cdp.on('Tracing.dataCollected', ({ value }) => events.push(...(value as unknown as TraceEvent[])))
  const done = new Promise<void>((resolve) => cdp.once('Tracing.tracingComplete', () => resolve()))
  await cdp.send('Tracing.start', {
    transferMode: 'ReportEvents',
    traceConfig: { includedCategories: ['toplevel', '__metadata'], excludedCategories: ['*'] },
  })
  await page.waitForTimeout(seconds * 1000)
  await cdp.send('Tracing.end')
  await done
  const mains = events.filter((one) => one.name === 'thread_name' && one.args.name === 'CrRendererMain')
  // Of several renderers the page's own is the busiest.
  const perThread = mains.map(({ pid, tid }) => {
    const tasks = events.filter(
      (one) => one.pid === pid && one.tid === tid && one.ph === 'X' && /RunTask/.test(one.name),
    )
    const begin = Math.min(...tasks.map((one) => one.ts))
    const frames = new Array<number>(Math.ceil((seconds * 1e6) / frameUs)).fill(0)
    for (const { ts, tdur } of tasks) {
      const frame = Math.floor((ts - begin) / frameUs)
      if (frame < frames.length) frames[frame] += (tdur ?? 0) / 1000
    }
    return frames
  })
  const sum = (frames: readonly number[]): number => frames.reduce((all, one) => all + one, 0)
  return perThread.sort((a, b) => sum(b) - sum(a))[0] ?? []
}

const quantiles = (values: readonly number[]) => {
  const sorted = [...values].sort((a, b) => a - b)
  const at = (share: number): number => {
    const value = sorted[Math.min(sorted.length - 1, Math.floor(sorted.length * share))]
    return Number(value.toFixed(2))
  }
  return { p50_ms: at(0.5), p90_ms: at(0.9), p99_ms: at(0.99), most_ms: at(1) }
}

describe.skipIf(browserPath === null)(`drawing${withoutBrowser}`, () => {
  let browser: Browser
  beforeAll(async () => {
    browser = await launch()
  })
  afterAll(() => browser?.close())

  /** Minutes into the hold at which the page is watched. */
  for (const [name, heldS] of [
    ['early', 30],
    ['late', 400],
  ] as const) {
    test(`a hold of two sections fed 4 × 100 readings a second is drawn all along, ${name} in the hold; the work per frame is noted`, async () => {
      const bench = await startStandIn({ folder: pageFolder, readingsPerS: 100, several: true })
      bench.at(stages.holdS + heldS)
      const { page, context } = await open(browser, bench.url)
      await page.waitForSelector('.section-decision')
      await page.waitForTimeout(3000)
      const frames = await workPerFrame(page, 12)
      const busy = frames.filter((one) => one > 0.5)
      note(`frames-${name}`, {
        frames: frames.length,
        all: quantiles(frames),
        busy_frames: busy.length,
        busy: quantiles(busy),
        mean_ms: Number((frames.reduce((sum, one) => sum + one, 0) / frames.length).toFixed(3)),
      })
      expect(busy.length).toBeGreaterThan(30)
      await context.close()
      await bench.close()
    })
  }
})
