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

  test('the hold page takes under 110 kB over the wire with its typefaces, and under 150 kB with all other pages', async () => {
    const bench = await startStandIn({ folder: pageFolder })
    const { page, context } = await open(browser, 'about:blank')
    const debug = await context.newCDPSession(page)
    await debug.send('Network.enable')
    const urls = new Map<string, string>()
    const bytes = new Map<string, number>()
    debug.on('Network.responseReceived', ({ requestId, response }) => urls.set(requestId, response.url))
    debug.on('Network.loadingFinished', ({ requestId, encodedDataLength }) => {
      const { pathname } = new URL(urls.get(requestId) ?? bench.url)
      if (!pathname.startsWith('/api/')) bytes.set(pathname, encodedDataLength)
    })
    await page.goto(bench.url)
    await page.waitForSelector('.figure-number:has-text(".")')
    // The other pages follow a little later, so that they open without a network.
    for (const name of ['system', 'records', 'wet', 'setup'])
      await expect.poll(() => [...bytes.keys()].join(), { timeout: 30_000 }).toContain(`${name}-page`)
    // What the document itself names, and the typefaces, is all that the hold page needs.
    const document = await (await fetch(bench.url)).text()
    const isFirst = (path: string) => path === '/' || path.endsWith('.woff2') || document.includes(path)
    const sum = (of: [string, number][]) => of.reduce((total, [, size]) => total + size, 0)
    const first = sum([...bytes].filter(([path]) => isFirst(path)))
    const whole = sum([...bytes])
    note('weight', { first, whole, files: Object.fromEntries(bytes) })
    expect(first).toBeGreaterThan(50_000)
    expect(first).toBeLessThan(110_000)
    expect(whole).toBeLessThan(150_000)
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
