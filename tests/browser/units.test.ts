import { readFileSync } from 'node:fs'
import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { RunningBench } from '#dashboard/server/start-bench.ts'
import { DemoBench } from '#ingest/sources/demo-bench.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { benchFolder, openBench } from '#tests/dashboard/server/open-bench.ts'
import { browserPath, launch, withoutBrowser } from './browser.ts'
import { routePage } from './route-page.ts'
import { sealLongHold } from './seal-long-hold.ts'

/** Figures in units that are not chosen. What the logger or the user wrote keeps its own, and is left out below. */
const figures = {
  imperial: /(?<![\w.-])(?:[\d.]+|–) ?(kPa|Pa|bar|hPa|°C|degC|K|L)(?![\w/²³·])/g,
  metric: /(?<![\w.-])(?:[\d.]+|–) ?(psi|inHg|inH2O|°F|degF|US gal)(?![\w/²³·])/g,
}
const chosen = {
  imperial: { pressure: 'psi', barometer: 'inHg', temperature: 'degF', volume: 'US gal' },
  metric: { pressure: 'kPa', barometer: 'hPa', temperature: 'degC', volume: 'L' },
}

describe.skipIf(browserPath === null)(`the switch of units${withoutBrowser}`, () => {
  const at = benchFolder()
  let browser: Browser
  let bench: RunningBench
  let record: string
  beforeAll(async () => {
    const text = readFileSync(at.systemPath, 'utf8')
    const system = systemFromFile(text, 'aircraft.yaml')
    const demo = new DemoBench({ system, speed: 10, seed: 3, leaking: {} })
    bench = await openBench(at, { ports: [{ port: demo }], demo, demoOperator: false })
    record = sealLongHold(bench.archive, at.folder, text, 10)
    browser = await launch()
  })
  afterAll(async () => {
    await browser?.close()
    await bench?.stop()
    at.remove()
  })

  for (const way of ['imperial', 'metric'] as const)
    test(`leaves no figure of another unit on any page: ${Object.values(chosen[way]).join(', ')}`, {
      timeout: 200_000,
    }, async () => {
      const context = await browser.newContext({ viewport: { width: 1366, height: 768 } })
      await context.addInitScript((units) => {
        for (const [name, unit] of Object.entries(units)) localStorage.setItem(`stillhold.${name}`, unit)
      }, chosen[way])
      const page = await context.newPage()
      await routePage(page)
      const found: string[] = []
      const views: readonly (readonly [path: string, ready: string])[] = [
        ['hold', '.figure-number:has-text(".")'],
        ['hold/start/rig-10psi', '.plan-answer'],
        ['hold/start/left-tank-1psi', '.plan-answer'],
        ['system/F22', '.ledger-groups > li'],
        ['records', '.record-table'],
        [`records/${record}`, 'section[aria-label="Curves of rig"] canvas'],
        ['setup', '.zero-list'],
        ['wet/stages', 'h2'],
        ['wet/flow', 'h2'],
        ['wet/torque', 'h2'],
      ]
      for (const [path, ready] of views) {
        await page.goto('about:blank')
        await page.goto(`${bench.server.url}/#/${path}`)
        await page.waitForSelector(ready, { timeout: 60_000 })
        const text = await page.evaluate(() => {
          for (const one of document.querySelectorAll('details')) one.open = true
          const own = document.querySelector('main')!.cloneNode(true) as HTMLElement
          const asWritten =
            'code, textarea, pre, input, select, .field, .segments, [data-label="as sent"], svg title'
          for (const one of own.querySelectorAll(asWritten)) one.remove()
          return own.textContent ?? ''
        })
        for (const match of text.matchAll(figures[way]))
          found.push(`${path}: …${text.slice(Math.max(0, match.index - 50), match.index + 12)}`)
      }
      // A standard volume is stated at its own reference, whatever the page shows.
      expect(found.filter((one) => !/scc\/min at /.test(one))).toEqual([])
      await context.close()
    })
})
