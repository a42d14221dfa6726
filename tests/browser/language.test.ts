import { copyFileSync } from 'node:fs'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { benchFolder, openBench } from '#tests/dashboard/server/open-bench.ts'
import { browserPath, launch, open, withoutBrowser } from './browser.ts'
import { startLiveBench } from './live-bench.ts'
import {
  accented,
  buildPseudoPage,
  inPlace,
  pseudoFolder,
  translatedCount,
  watchTexts,
} from './pseudo-language.ts'
import { routePage } from './route-page.ts'
import { startStandIn } from './stand-in.ts'
import { stages } from './stand-in-curve.ts'
import { recordIds } from './stand-in-records.ts'

const button = (page: Page, english: string) => page.getByRole('button', { name: accented(english) }).first()
const field = (page: Page, english: string) => page.getByLabel(accented(english)).first()
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
    await page.evaluate(() => document.querySelector('main')!.append('Close the vent', 'left-tanks'))
    // The name of a section excuses no longer word.
    expect(await inPlace(page)).toEqual([
      expect.stringContaining('Close the vent (MAIN'),
      expect.stringContaining('left-tanks (MAIN'),
    ])
    await context.close()
  })

  test('in a hold with all its steps, its marks and its record, and in the forms of the system', {
    timeout: 240_000,
  }, async () => {
    const live = await startLiveBench()
    const { page, context } = await live.open(browser, undefined, undefined, {
      folder: pseudoFolder,
      before: watchTexts,
    })
    const stageIs = (stage: string) => () => live.state().hold?.stage === stage
    const see = async (path: string): Promise<void> => {
      await page.goto(`${live.url}#/${path}`)
      await page.waitForTimeout(500)
    }
    await see('hold/start/feed-lines-10psi')
    await live.pass(30)
    await page.getByText(accented('Not dry, or the hose stays on?')).click()
    await button(page, 'Supply is on, cock is shut: look').click()
    await live.pass(62)
    await button(page, 'I have read these and they are met').click()
    await page.waitForTimeout(800)
    await button(page, 'Begin the pump-up').click()
    await live.pass(90, () => live.demo.atPressure)
    await button(page, 'At pressure: settle').click()
    await button(page, 'Hose off, port plugged').click()
    // A tap this soon after the last would be the same one.
    await page.waitForTimeout(1500)
    await button(page, 'Start the hold').click()
    await button(page, 'Keep settling').click()
    await button(page, 'Write a note').click()
    await page.keyboard.press('Escape')
    for (const english of ['bubbles', 'Plug in']) {
      await page.locator('.fitting-pad button').first().click()
      await button(page, english).click()
      await page.waitForSelector('.part-dialog', { state: 'hidden' })
    }
    await live.pass(260, stageIs('hold'))
    await button(page, 'Give this hold up').click()
    await button(page, 'Go on').click()
    await button(page, 'End the hold and vent').click()
    await button(page, 'Keep holding').click()
    await live.pass(600, () => {
      const { hold, nowS } = live.state()
      return nowS !== null && hold !== null && nowS - hold.stageStartedS >= 600
    })
    await button(page, 'Open the known leak').click()
    await live.pass(120)
    await button(page, 'Shut the known leak').click()
    await live.pass(30)
    await button(page, 'End the hold and vent').click()
    // It asks again where the bench has not decided yet.
    await page.waitForTimeout(1000)
    if (await button(page, 'End and vent').isVisible()) await button(page, 'End and vent').click()
    await live.pass(30, () => live.state().hold === null)
    if (live.state().hold !== null) await button(page, 'Vented: seal the record').click()
    await page.waitForSelector('.last-verdict', { timeout: 60_000 })
    await see(`records/${live.state().last!.record}`)
    await page.waitForSelector('.seal')
    for (const part of ['sections', 'valves', 'fittings', 'holds', 'channels']) {
      await see('system/draw')
      await see(`system/draw/${part}`)
    }
    await see('system/draw/sections/firewall-forward')
    await see('system/draw/holds/feed-lines-10psi')
    for (const path of [
      'system',
      'system/campaign',
      'setup/channels',
      'setup/zero',
      'setup/ports',
      'setup/sharing',
    ])
      await see(path)
    expect(await translatedCount(page)).toBeGreaterThan(200)
    expect(await inPlace(page)).toEqual([])
    await context.close()
    await live.close()
  })

  test('in the work with fuel', async () => {
    const at = benchFolder()
    copyFileSync(new URL('../../recordings/wet/floatplane-wet.yaml', import.meta.url), at.systemPath)
    const bench = await openBench(at)
    const { page, context } = await open(browser, 'about:blank', phone)
    await watchTexts(context)
    await routePage(page, pseudoFolder)
    for (const part of ['level', 'flow', 'torque', 'stages']) {
      await page.goto(`${bench.server.url}/#/wet/${part}`)
      await page.waitForSelector('h2')
      await page.waitForTimeout(400)
      for (const english of ['Judge', 'Add a'])
        if (await button(page, english).count()) await button(page, english).click()
    }
    await field(page, 'Who makes the entries').fill('ab')
    await page.getByText(accented('Open a sheet')).click()
    await field(page, 'Stage').selectOption('pump-on')
    await page.getByLabel('left-tank', { exact: true }).check()
    await button(page, 'Open the sheet').click()
    const sheet = page.getByRole('article').first()
    await sheet.waitFor()
    for (const box of await sheet.locator('ul > li > label > input').all()) {
      await box.click()
      await page.waitForTimeout(100)
    }
    await field(page, 'Its temperature, such as 15 degC').fill('12 degC')
    await button(page, 'Save the conditions').click()
    await button(page, 'begin now').click()
    await page.getByRole('button', { name: 'F02' }).first().click()
    const look = sheet.locator('section.panel').first()
    await look.getByRole('checkbox').first().check()
    await look.getByRole('combobox').selectOption('seep')
    await look.locator('.main').click()
    await sheet.getByRole('rowheader', { name: 'F02' }).waitFor()
    await button(page, 'Judge').click()
    await page.waitForSelector('.wet-judge h3')
    expect(await translatedCount(page)).toBeGreaterThan(100)
    expect(await inPlace(page)).toEqual([])
    await context.close()
    await bench.stop()
    at.remove()
  })
})
