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

/** Counts the time each animation frame of the page takes in script. */
const countFrames = async (page: Page): Promise<void> => {
  await page.addInitScript(() => {
    const spent: number[] = []
    Object.assign(window, { spentMs: spent })
    const real = window.requestAnimationFrame.bind(window)
    window.requestAnimationFrame = (work) =>
      real((now) => {
        const start = performance.now()
        work(now)
        spent.push(performance.now() - start)
      })
  })
}

describe.skipIf(browserPath === null)(`drawing${withoutBrowser}`, () => {
  let browser: Browser
  beforeAll(async () => {
    browser = await launch()
  })
  afterAll(() => browser?.close())

  test('a hold fed 3 × 100 readings a second is drawn all along; the work per frame is noted', async () => {
    const bench = await startStandIn({ folder: pageFolder, readingsPerS: 100 })
    bench.at(stages.holdS + 200)
    const { page, context } = await open(browser, 'about:blank')
    await countFrames(page)
    await page.goto(bench.url)
    await page.waitForSelector('.decision-panel')
    await page.waitForTimeout(12_000)
    const spent = await page.evaluate(() => (window as unknown as { spentMs: number[] }).spentMs)
    const sorted = [...spent].sort((a, b) => a - b)
    const at = (share: number): number =>
      sorted[Math.min(sorted.length - 1, Math.floor(sorted.length * share))]
    note('frames', { frames: spent.length, p50_ms: at(0.5), p99_ms: at(0.99), most_ms: at(1) })
    expect(spent.length).toBeGreaterThan(30)
    await context.close()
    await bench.close()
  })
})
