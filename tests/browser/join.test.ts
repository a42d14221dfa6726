import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { Sharing } from '#dashboard/server/http/sharing.ts'
import type { RunningBench } from '#dashboard/server/start-bench.ts'
import { benchFolder, openBench } from '#tests/dashboard/server/open-bench.ts'
import { browserPath, launch, withoutBrowser } from './browser.ts'

describe.skipIf(browserPath === null)(`the page on which a device gives its code${withoutBrowser}`, () => {
  const at = benchFolder()
  const sharing = new Sharing()
  let browser: Browser
  let bench: RunningBench
  beforeAll(async () => {
    bench = await openBench(at, { sharing })
    browser = await launch()
  })
  afterAll(async () => {
    await browser?.close()
    await bench?.stop()
    at.remove()
  })

  test('the form of a real browser is not taken for that of another site: the device gets its cookie', async () => {
    const context = await browser.newContext()
    const page = await context.newPage()
    await page.goto(`${bench.server.url}/join?code=${sharing.code('viewer')}`)
    await page.getByRole('button', { name: 'Join' }).click()
    await page.waitForURL(`${bench.server.url}/`)
    expect((await context.cookies()).map(({ name }) => name)).toEqual(['stillhold_device'])
    await page.goto(`${bench.server.url}/join?code=WRONG`)
    await page.getByRole('button', { name: 'Join' }).click()
    expect(await page.getByRole('alert').textContent()).toContain('That code is not valid')
    await context.close()
  })
})
