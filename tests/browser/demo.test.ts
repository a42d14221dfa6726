import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { LiveState } from '#dashboard/api.ts'
import { browserPath, launch, open, shoot, withoutBrowser } from './browser.ts'
import { ended, type RunningProgram, serveProgram } from './serve-program.ts'

/** The demo as a visitor starts it, with the page that `npm run build` made. */
const startDemo = (data: string, listen: string): Promise<RunningProgram> =>
  serveProgram('--demo', '--speed', '30', '--listen', listen, '--data', data)

/** Waits until the first hold of the demo is sealed. */
async function sealed(url: string): Promise<LiveState> {
  for (;;) {
    const state = (await (await fetch(`${url}/api/state`)).json()) as LiveState
    if (state.last !== null) return state
    await new Promise((done) => setTimeout(done, 500))
  }
}

describe.skipIf(browserPath === null)(`the demo bench, end to end${withoutBrowser}`, () => {
  let browser: Browser
  let data: string
  beforeAll(async () => {
    browser = await launch()
    data = mkdtempSync(join(tmpdir(), 'stillhold-demo-'))
  })
  afterAll(async () => {
    await browser?.close()
    rmSync(data, { recursive: true, force: true })
  })

  test('a visitor sees a hold go through its stages to a verdict, its record and its test report', {
    timeout: 240_000,
  }, async () => {
    const demo = await startDemo(data, '127.0.0.1:0')
    try {
      const { page, context, complaints } = await open(browser, demo.url)
      await page.waitForSelector('.rail li.is-now', { timeout: 60_000 })
      await page.waitForSelector('.decision-panel', { timeout: 90_000 })
      await shoot(page, 'demo-holding')
      const state = await sealed(demo.url)
      expect(state.last?.result.verdict).toMatch(/^(pass|fail|undecided|void)$/)
      const record = state.last!.record
      await page.goto(`${demo.url}/#/records/${record}`)
      await page.waitForSelector(`h1:has-text("${record}")`)
      await page.waitForSelector('.record-head .verdict-word')
      await shoot(page, 'demo-record', true)
      const report = await fetch(`${demo.url}/api/records/${record}/report.pdf`)
      expect(report.status).toBe(200)
      expect(
        Buffer.from(await report.arrayBuffer())
          .subarray(0, 5)
          .toString(),
      ).toBe('%PDF-')
      await page.goto(`${demo.url}/#/system`)
      await page.waitForSelector('.ledger-groups > li', { timeout: 60_000 })
      await shoot(page, 'demo-system', true)
      expect(complaints).toEqual([])
      await context.close()
    } finally {
      await ended(demo.process)
    }
  })

  test('the program is stopped and started again: the page says so, and comes back', {
    timeout: 180_000,
  }, async () => {
    const first = await startDemo(data, '127.0.0.1:0')
    const { page, context } = await open(browser, first.url)
    await page.waitForSelector('.figure-number:has-text(".")', { timeout: 60_000 })
    await ended(first.process)
    await page.waitForSelector('.band.of-server', { timeout: 30_000 })
    const second = await startDemo(data, first.url.replace('http://', ''))
    try {
      await page.waitForSelector('.band.of-server', { state: 'detached', timeout: 60_000 })
      expect(await page.getAttribute('.figure-panel', 'class')).not.toContain('is-old')
      await context.close()
    } finally {
      await ended(second.process)
    }
  })
})
