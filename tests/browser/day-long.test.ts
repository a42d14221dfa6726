import { mkdirSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import type { Browser, Response } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { MinMaxColumns } from '#dashboard/api.ts'
import type { RunningBench } from '#dashboard/server/start-bench.ts'
import { benchFolder, openBench } from '#tests/dashboard/server/open-bench.ts'
import { browserPath, launch, shoot, withoutBrowser } from './browser.ts'
import { pageFolder } from './build-page.ts'
import { routePage } from './route-page.ts'
import { sealLongHold } from './seal-long-hold.ts'

describe.skipIf(browserPath === null)(`a record of 24 hours on the real server${withoutBrowser}`, () => {
  const at = benchFolder()
  let browser: Browser
  let bench: RunningBench
  const ids: Record<'ten minutes' | 'a day', string> = { 'ten minutes': '', 'a day': '' }
  beforeAll(async () => {
    bench = await openBench(at)
    const systemText = readFileSync(at.systemPath, 'utf8')
    ids['ten minutes'] = sealLongHold(bench.archive, at.folder, systemText, 10)
    ids['a day'] = sealLongHold(bench.archive, at.folder, systemText, 24 * 60)
    browser = await launch()
  }, 300_000)
  afterAll(async () => {
    await browser?.close()
    await bench?.stop()
    at.remove()
  })

  test('shows what was sealed at once and no more bytes than ten minutes do, and zooms to single readings', {
    timeout: 300_000,
  }, async () => {
    const context = await browser.newContext({
      viewport: { width: 1366, height: 768 },
      reducedMotion: 'reduce',
    })
    const page = await context.newPage()
    await routePage(page)
    const measured: Record<string, unknown> = {}
    const bytes: number[] = []
    for (const [name, id] of Object.entries(ids)) {
      await page.goto(`${bench.server.url}/#/records`)
      const asked: string[] = []
      const hear = (response: Response): void => {
        const path = new URL(response.url()).pathname
        if (path.startsWith('/api/records/')) asked.push(path.replace(`/api/records/${id}`, ''))
      }
      page.on('response', hear)
      const columns = page.waitForResponse((one) => one.url().includes('/columns'))
      const beganMs = performance.now()
      await page.getByRole('link', { name: id }).click()
      await page.waitForSelector('.record-head .verdict-word')
      const verdictMs = performance.now() - beganMs
      // The verdict stands there from what was sealed: nothing had to be read or computed for it.
      expect(asked.filter((one) => one !== '/columns')).toEqual(['/record.json'])
      bytes.push((await (await columns).body()).length)
      await page.waitForSelector('section[aria-label=Recording] canvas')
      const chartMs = performance.now() - beganMs
      await page.waitForSelector('section[aria-label="Curves of rig"] canvas', { timeout: 60_000 })
      measured[name] = { verdict_ms: verdictMs, chart_ms: chartMs, curves_ms: performance.now() - beganMs }
      page.off('response', hear)
    }
    mkdirSync(join(pageFolder, '..'), { recursive: true })
    writeFileSync(join(pageFolder, '..', 'measured-day.json'), `${JSON.stringify(measured, null, 2)}\n`)
    expect(bytes[1]).toBeLessThan(1.2 * bytes[0])
    await page.waitForSelector('h2:has-text("0:00 to 24:00:00")')
    await shoot(page, 'real-record-24h', true)

    let newest: MinMaxColumns[] = []
    let [from, to] = [0, 0]
    for (let i = 0; i < 11; i++) {
      const answer = page.waitForResponse((one) => one.url().includes('/columns'))
      await page.getByRole('button', { name: 'Closer' }).click()
      const got = await answer
      newest = (await got.json()) as MinMaxColumns[]
      const query = new URL(got.url()).searchParams
      from = Number(query.get('from'))
      to = Number(query.get('to'))
    }
    // 24 h · 0.4^11 is 3.6 s, at ten readings a second.
    const gauge = newest.find(({ channel }) => channel === 'p-rig')!
    expect(gauge.timeS.length).toBeGreaterThan(30)
    expect(Math.abs(gauge.timeS.length - (to - from) * 10)).toBeLessThanOrEqual(1)
    expect(gauge.low).toEqual(gauge.high)
    await shoot(page, 'real-record-24h-close', true)
    await context.close()
  })
})
