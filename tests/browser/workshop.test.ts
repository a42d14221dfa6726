import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { type RunningBench, startBench } from '#dashboard/server/start-bench.ts'
import { aircraftIn, Workshop } from '#dashboard/server/workshop.ts'
import { browserPath, launch, shoot, withoutBrowser } from './browser.ts'
import { routePage } from './route-page.ts'
import { violationsByDayAndNight } from './violations-of.ts'

describe.skipIf(browserPath === null)(`several aircraft in one workshop${withoutBrowser}`, () => {
  const folder = mkdtempSync(join(tmpdir(), 'stillhold-workshop-'))
  const text = readFileSync(new URL('../../recordings/floatplane.yaml', import.meta.url), 'utf8')
  for (const color of ['amber', 'blue'])
    writeFileSync(join(folder, `${color}.yaml`), text.replace(/^name: .*$/m, `name: the ${color} one`))
  let browser: Browser
  let bench: RunningBench
  beforeAll(async () => {
    const workshop = new Workshop(aircraftIn(folder), ({ id, systemPath, dataFolder }) => {
      return { aircraft: id, systemPath, dataFolder, ports: [], demo: null }
    })
    const listen = { host: '127.0.0.1', port: 0 }
    bench = await startBench({ ...workshop.benchOf(workshop.chosen), workshop, listen, version: '0' })
    browser = await launch()
  })
  afterAll(async () => {
    await browser?.close()
    await bench?.stop()
    rmSync(folder, { recursive: true, force: true })
  })

  test('the name leads to the choice; one tap brings another to the bench, and a page left open follows', async () => {
    const context = await browser.newContext({ viewport: { width: 390, height: 844 } })
    const [page, left] = [await context.newPage(), await context.newPage()]
    for (const each of [page, left]) {
      await routePage(each)
      await each.route(/\/(aircraft|join\.css)$/, (route) => route.continue())
      await each.goto(bench.server.url)
      await each.waitForSelector('.of-system:has-text("the amber one")', { state: 'attached' })
    }
    await page.goto(`${bench.server.url}${await page.locator('a.of-system').getAttribute('href')}`)
    await shoot(page, 'workshop')
    expect(await violationsByDayAndNight(page)).toEqual([])
    await page.getByRole('button', { name: 'Bring the blue one (blue) to the bench' }).click()
    await page.waitForSelector('.of-system:has-text("the blue one")', { state: 'attached' })
    await left.waitForSelector('.of-system:has-text("the blue one")', { state: 'attached' })
    await context.close()
  })
})
