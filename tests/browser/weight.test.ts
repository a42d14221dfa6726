import { mkdirSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
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

describe.skipIf(browserPath === null)(`weight and drawing${withoutBrowser}`, () => {
  let browser: Browser
  beforeAll(async () => {
    browser = await launch()
  })
  afterAll(() => browser?.close())

  test('the hold page comes in under 110 kB over the wire, typefaces with it; each other page adds under 35 kB', async () => {
    const bench = await startStandIn({ folder: pageFolder })
    const { page, context } = await open(browser, 'about:blank')
    const debug = await context.newCDPSession(page)
    await debug.send('Network.enable')
    const fetched = new Map<string, string>()
    let bytes = 0
    debug.on('Network.responseReceived', ({ requestId, response }) => fetched.set(requestId, response.url))
    debug.on('Network.loadingFinished', ({ requestId, encodedDataLength }) => {
      if (!new URL(fetched.get(requestId) ?? bench.url).pathname.startsWith('/api/'))
        bytes += encodedDataLength
    })
    await page.goto(bench.url)
    await page.waitForSelector('.figure-number:has-text(".")')
    await page.evaluate(() => document.fonts.ready)
    const weights: Record<string, number> = { hold: bytes }
    for (const name of ['system', 'records', 'wet', 'setup']) {
      const before = bytes
      await page.goto(`${bench.url}#/${name}`)
      await page.waitForSelector('h1')
      await page.waitForTimeout(300)
      weights[name] = bytes - before
    }
    note('weight', weights)
    expect(weights.hold).toBeGreaterThan(20_000)
    expect(weights.hold).toBeLessThan(110_000)
    expect(Math.max(...Object.values(weights).slice(1))).toBeLessThan(35_000)
    await context.close()
    await bench.close()
  })

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
