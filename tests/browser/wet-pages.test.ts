import { copyFileSync, readFileSync } from 'node:fs'
import type { Browser, BrowserContext, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { RunningBench } from '#dashboard/server/start-bench.ts'
import { benchFolder, openBench } from '#tests/dashboard/server/open-bench.ts'
import { browserPath, launch, shoot, withoutBrowser } from './browser.ts'
import { routePage } from './route-page.ts'
import { violationsOf } from './violations-of.ts'

const recordings = new URL('../../recordings/wet/', import.meta.url)
const parts = ['stages', 'level', 'flow', 'torque'] as const

/** The page just built, before the real bench: only what it asks of /api goes to the server. */
describe.skipIf(browserPath === null)(`the wet pages before the real bench${withoutBrowser}`, () => {
  const at = benchFolder()
  let browser: Browser
  let bench: RunningBench
  beforeAll(async () => {
    copyFileSync(new URL('floatplane-wet.yaml', recordings), at.systemPath)
    bench = await openBench(at)
    browser = await launch()
  })
  afterAll(async () => {
    await browser?.close()
    await bench?.stop()
    at.remove()
  })

  async function open(
    part: string,
    look: 'light' | 'dark',
    width: number,
  ): Promise<{ page: Page; context: BrowserContext }> {
    const context = await browser.newContext({
      viewport: { width, height: 800 },
      colorScheme: look,
      reducedMotion: 'reduce',
    })
    const page = await context.newPage()
    await routePage(page)
    await page.goto(`${bench.server.url}/#/wet/${part}`)
    await page.waitForSelector('h2')
    return { page, context }
  }

  for (const part of parts)
    for (const look of ['light', 'dark'] as const)
      test(`${part} in ${look}: axe finds nothing (WCAG 2.2 AA), nothing runs over the edge at 360 and 1280 px`, async () => {
        const { page, context } = await open(part, look, 360)
        for (const width of [360, 1280]) {
          await page.setViewportSize({ width, height: 800 })
          await page.waitForTimeout(300)
          const over = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth)
          expect(over, `${width} px: runs over by`).toBeLessThanOrEqual(0)
          await shoot(page, `wet-${part}-${look}-${width}`, true)
          expect(await violationsOf(page)).toEqual([])
        }
        await context.close()
      })

  test('a sheet is opened on a phone, inspected, handed over on a laptop after a reload, judged and locked', async () => {
    const { page, context } = await open('stages', 'light', 360)
    await page.getByLabel('Who makes the entries').fill('ab')
    await page.getByText('Open a sheet').click()
    await page.getByLabel(/^Stage/).selectOption('brim-full-soak')
    await page.getByLabel('left-tank', { exact: true }).check()
    await page.getByRole('button', { name: 'Open the sheet' }).click()
    const sheet = page.getByRole('article', { name: 'Full overnight' })
    await sheet.waitFor()
    for (const box of await sheet.locator('ul[aria-label=Steps] > li > label > input').all()) {
      await box.click()
      await page.waitForTimeout(100)
    }
    await sheet.getByLabel('Its temperature, such as 15 degC').fill('12 degC')
    await sheet.getByRole('button', { name: 'Save the conditions' }).click()
    await sheet.getByRole('button', { name: 'begin now' }).click()
    await sheet.getByRole('button', { name: 'Look at F02' }).click()
    await sheet.getByLabel('paper', { exact: false }).first().check()
    await sheet.getByLabel('Finding at F02').selectOption('seep')
    await sheet.getByLabel('Width of the spot').fill('22 mm')
    await shoot(page, 'wet-sheet-360', true)
    expect(await violationsOf(page)).toEqual([])
    await sheet.getByRole('button', { name: 'Record F02: seep' }).click()
    await sheet.getByRole('rowheader', { name: 'F02' }).waitFor()
    await context.close()

    const other = await open('stages', 'dark', 1280)
    await other.page.getByLabel('Who makes the entries').fill('cd')
    await other.page.getByRole('button', { name: 'Full overnight: left-tank' }).click()
    await other.page.getByRole('button', { name: 'Take over from ab' }).click()
    await other.page.getByText('cd took over').first().waitFor()
    await other.page.getByRole('button', { name: 'Judge' }).click()
    await other.page.waitForSelector('section[aria-label=Result]')
    await shoot(other.page, 'wet-sheet-judged-1280', true)
    expect(await violationsOf(other.page)).toEqual([])
    await other.page.getByLabel('Initials or name').fill('cd')
    await other.page.getByRole('button', { name: 'Sign and lock into the archive' }).click()
    await other.page.waitForSelector('section[aria-label=Result] a')
    const [record] = bench.archive.list({ kind: 'wet' })
    const { verdict, steps, looks } = bench.archive.get(record.id).result as unknown as {
      verdict: string
      steps: { done: boolean }[]
      looks: { finding: string; by: string; clock: string }[]
    }
    expect([verdict, steps.every(({ done }) => done)]).toEqual(['fail', true])
    expect(looks[0]).toMatchObject({ finding: 'seep', by: 'ab', clock: 'bench' })
    await other.context.close()
  })

  test('a calibration with two recordings is judged with its picture and table', async () => {
    const { page, context } = await open('level', 'dark', 360)
    const text = readFileSync(new URL('left-sender.lp', recordings))
    await page.getByLabel('Recordings with fill marks').setInputFiles([
      { name: 'first.lp', mimeType: 'text/plain', buffer: text },
      { name: 'second.lp', mimeType: 'text/plain', buffer: Buffer.concat([text, Buffer.from('# again\n')]) },
    ])
    await page.getByRole('button', { name: 'Judge' }).click()
    await page.waitForSelector('section[aria-label=Result] table')
    await shoot(page, 'wet-level-judged-360', true)
    expect(await violationsOf(page)).toEqual([])
    await context.close()
  })

  test('photos of 13 MB are refused in words before they are sent', async () => {
    const { page, context } = await open('stages', 'light', 1280)
    await page.getByLabel('Who makes the entries').fill('ab')
    await page.getByText('Open a sheet').click()
    await page.getByLabel('right-tank', { exact: true }).check()
    await page.getByRole('button', { name: 'Open the sheet' }).click()
    await page
      .getByLabel('Photos, together 12 MB at most')
      .setInputFiles(
        [{ name: 'big.jpg', mimeType: 'image/jpeg', buffer: Buffer.alloc(13 * 1024 ** 2, 0xff) }],
        { timeout: 100_000 },
      )
    await page.waitForSelector('text=13.0 MB is too much')
    await context.close()
  })
})
