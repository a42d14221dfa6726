import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { browserPath, launch, open, withoutBrowser } from './browser.ts'
import { buildPseudoPage, inPlace, pseudoFolder, translatedCount, watchTexts } from './pseudo-language.ts'
import { startStandIn } from './stand-in.ts'
import { stages } from './stand-in-curve.ts'
import { recordIds } from './stand-in-records.ts'

const phone = { width: 360, height: 780 }

const idleViews = [
  'hold',
  'hold/start',
  'hold/start/left-feed-10psi',
  'system',
  'system/F07',
  'system/campaign',
  'records',
  'records/history',
  ...recordIds.slice(0, 4).map((id) => `records/${id}`),
  `records/${recordIds[1]}/over/${recordIds[0]}`,
  ...['display', 'ports', 'channels', 'zero', 'file', 'sharing'].map((part) => `setup/${part}`),
]

/** The alarms of the bench, with the server's own words. */
const alarms = [
  'over-pressure',
  'ramp-too-fast',
  'pressure-fell',
  'logger-unplugged',
  'logger-silent',
  'logger-unread',
  'disk-full',
  'clock-jump',
  'not-sealed',
  'set-aside',
] as const

describe.skipIf(browserPath === null)(`no sentence is outside the catalogue${withoutBrowser}`, () => {
  let browser: Browser
  beforeAll(async () => {
    await buildPseudoPage()
    browser = await launch()
  })
  afterAll(() => browser?.close())

  test('on any page, before records, alarms and a bench that stalls and is lost', async () => {
    const bench = await startStandIn({ folder: pseudoFolder, several: true })
    bench.at(stages.holdS + 150)
    const { page, context } = await open(browser, 'about:blank')
    await watchTexts(context)
    const see = async (path: string): Promise<void> => {
      await page.goto(`${bench.url}#/${path}`)
      await page.waitForTimeout(700)
    }
    await see('hold')
    await page.keyboard.press('?')
    await page.keyboard.press('Escape')
    for (const code of alarms) bench.alarms([{ code, message: 'the server says so' }])
    await page.waitForTimeout(300)
    bench.alarms([])
    for (const timeS of [stages.pumpUpS + 5, stages.settleS + 5, stages.holdS - 5, stages.holdS + 5]) {
      bench.at(timeS)
      await page.waitForTimeout(1100)
    }
    bench.at(stages.holdS + 150)
    bench.idle(true)
    for (const path of idleViews) await see(path)
    await page.setViewportSize(phone)
    for (const path of ['hold', 'system/F07', 'records', `records/${recordIds[0]}`]) await see(path)
    for (const term of await page.locator('.term button').all()) await term.click()
    bench.stall(true)
    await page.waitForSelector('.band.of-stream')
    await bench.close()
    await page.waitForSelector('.band.of-server')
    await page.click('.pages >> nth=0 >> a >> nth=2')
    await page.waitForTimeout(500)
    expect(await translatedCount(page)).toBeGreaterThan(300)
    expect(await inPlace(page)).toEqual([])
    await page.evaluate(() => document.querySelector('main')!.append('Close the vent'))
    expect(await inPlace(page)).toEqual([expect.stringContaining('Close the vent (MAIN')])
    await context.close()
  })
})
