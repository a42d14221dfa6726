import { mkdirSync, readdirSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { gzipSync } from 'node:zlib'
import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { browserPath, launch, open, withoutBrowser } from './browser.ts'
import { pageFolder } from './build-page.ts'
import { quantiles, workPerFrame } from './frame-work.ts'
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
