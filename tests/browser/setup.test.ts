import { readdirSync, readFileSync } from 'node:fs'
import { extname, join } from 'node:path'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { RunningBench } from '#dashboard/server/start-bench.ts'
import { benchFolder, openBench } from '#tests/dashboard/server/open-bench.ts'
import { browserPath, launch, open, shoot, withoutBrowser } from './browser.ts'
import { pageFolder } from './build-page.ts'

const writeToken = 'a-logger-of-the-test'
const psi = 6894.757293

/** The page of these sources before the real server, whose own copy may be of an earlier build. */
async function freshPage(page: Page): Promise<void> {
  const types: Readonly<Record<string, string>> = {
    '.html': 'text/html',
    '.js': 'text/javascript',
    '.css': 'text/css',
  }
  await page.route(
    (url) => !url.pathname.startsWith('/api'),
    (route) => {
      const { pathname } = new URL(route.request().url())
      const file = join(pageFolder, pathname === '/' ? 'index.html' : pathname)
      return route.fulfill({ path: file, contentType: types[extname(file)] ?? 'application/octet-stream' })
    },
  )
}

describe.skipIf(browserPath === null)(`setup against the real server${withoutBrowser}`, () => {
  let browser: Browser
  let bench: RunningBench
  const at = benchFolder()
  let timer: NodeJS.Timeout
  /** What the vented gauge of the forward section says, [psi]. */
  let readPsi = 0.031

  beforeAll(async () => {
    browser = await launch()
    bench = await openBench(at, { writeToken })
    timer = setInterval(() => {
      fetch(`${bench.server.url}/api/v2/write`, {
        method: 'POST',
        headers: { authorization: `Token ${writeToken}` },
        body: `logger p4=${readPsi},p3=0.02,t4=18.2,baro=1013.2 ${BigInt(Date.now()) * 1_000_000n}\n`,
      }).catch(() => {})
    }, 100)
  })
  afterAll(async () => {
    clearInterval(timer)
    await browser?.close()
    await bench?.stop()
    at.remove()
  })

  test('calibration points are typed, saved into the file under their channel, and in force at once', async () => {
    const before = readFileSync(at.systemPath, 'utf8')
    const { page, context, complaints } = await open(browser, 'about:blank')
    await freshPage(page)
    await page.goto(`${bench.server.url}/#/setup/zero`)
    await page.getByRole('combobox', { name: 'Channel' }).selectOption('p-forward')
    await page.getByLabel('True value of point 1, psi').fill('0')
    await page.getByRole('button', { name: 'Reads now: take it for point 1' }).click()
    expect(await page.inputValue('[aria-label="Read value of point 1, psi"]')).toMatch(/^0\.031/)
    await page.getByLabel('True value of point 2, psi').fill('10')
    await page.getByLabel('Read value of point 2, psi').fill('10,04')
    await page.getByLabel('Calibrated on').fill('2026-11-25')
    await shoot(page, 'setup-calibration')
    await page.getByRole('button', { name: 'Save into the system file' }).click()
    await page.waitForSelector('.toast >> text=The calibration of p-forward is in the system file')

    const after = readFileSync(at.systemPath, 'utf8')
    const known = new Set(before.split('\n'))
    expect(after.split('\n').filter((line) => !known.has(line))).toEqual([
      '    calibration: { date: 2026-11-25, points: [[0 psi, 0.031 psi], [10 psi, 10.04 psi]] }',
    ])
    const saved = bench.session.systemFile.system!.channels.find((one) => one.id === 'p-forward')!
    expect(saved.calibration!.points[1]).toEqual([
      expect.closeTo(10 * psi, 3),
      expect.closeTo(10.04 * psi, 3),
    ])
    await page.waitForSelector('tr:has(th:text-is("p-forward")) >> text=2026-11-25, 2 points')
    // What reads 0.031 is 0 by the new points.
    await page.waitForSelector('tr:has(th:text-is("p-forward")) >> text=/^0\\.000 psi/')
    expect(complaints).toEqual([])
    await context.close()
  })

  test('a change of the system file reaches a page that is open elsewhere; what is typed and not saved waits for its return', async () => {
    const saved = readFileSync(at.systemPath, 'utf8')
    const { page, context, complaints } = await open(browser, 'about:blank')
    await freshPage(page)
    await page.goto(`${bench.server.url}/#/setup/file`)
    const editor = page.getByRole('textbox', { name: 'System file' })
    await editor.fill(`${await editor.inputValue()}# half a thought`)
    await page.click('.pages >> text=Hold')
    await page.click('text=Start a hold')
    await page.waitForSelector('.hold-choices >> text=left-tank-1psi')
    bench.session.changeSystem(saved.replaceAll('left-tank-1psi', 'left-tank-new'))
    await page.waitForSelector('.hold-choices >> text=left-tank-new')
    expect(await page.locator('.hold-choices').getByText('left-tank-1psi').count()).toBe(0)
    await page.click('.pages >> text=Setup')
    expect(await editor.inputValue()).toMatch(/# half a thought$/)
    await page.getByRole('button', { name: 'Back to the saved file' }).click()
    expect(await editor.inputValue()).toContain('left-tank-new')
    bench.session.changeSystem(saved)
    await page.waitForFunction(() => document.querySelector('textarea')?.value.includes('left-tank-1psi'))
    expect(complaints).toEqual([])
    await context.close()
  })

  test('points that do not rise are refused in words and nothing is written', async () => {
    const before = readFileSync(at.systemPath, 'utf8')
    const { page, context } = await open(browser, 'about:blank')
    await freshPage(page)
    await page.goto(`${bench.server.url}/#/setup/zero`)
    await page.getByRole('combobox', { name: 'Channel' }).selectOption('p-rig')
    for (const [i, [t, r]] of [
      ['5', '1'],
      ['2', '3'],
    ].entries()) {
      await page.getByLabel(`True value of point ${i + 1}, psi`).fill(t)
      await page.getByLabel(`Read value of point ${i + 1}, psi`).fill(r)
    }
    await page.getByRole('button', { name: 'Save into the system file' }).click()
    await page.waitForSelector('.note.is-failed >> text=does not rise with the reading')
    expect(readFileSync(at.systemPath, 'utf8')).toBe(before)
    await context.close()
  })

  test('a zero is the mean of what was read, with the words the recording’s reader understands; not under pressure', async () => {
    readPsi = 0.05
    const { page, context, complaints } = await open(browser, 'about:blank')
    await freshPage(page)
    await page.goto(`${bench.server.url}/#/setup/zero`)
    const row = page.locator('.zero-list li', { hasText: 'p-forward' }).first()
    const take = row.getByRole('button', { name: 'Take its zero' })
    expect(await take.isDisabled()).toBe(true)
    await page.waitForTimeout(6000)
    await row.getByLabel('p-forward is vented and open to the air').check()
    await shoot(page, 'setup-zero')
    await take.click()
    await page.waitForSelector('.toast >> text=Marked: zero of p-forward')
    bench.session.core.recording.keep(() => {})
    const folder = join(at.folder, 'data', 'session')
    const recording = readdirSync(folder)
      .filter((name) => name.endsWith('.lp'))
      .map((name) => readFileSync(join(folder, name), 'utf8'))
      .join('')
    const [, reading, truth] =
      /^mark,kind=zero,from=operator,id=p-forward reading=([\d.]+),true=(\d+)/m.exec(recording) ?? []
    expect(Number(reading)).toBeCloseTo(0.05 * psi, 3)
    expect(truth).toBe('0')

    readPsi = 4
    await row.getByLabel('p-forward is vented and open to the air').check()
    await row.getByText('is too far from zero').waitFor()
    expect(await take.isDisabled()).toBe(true)
    expect(complaints).toEqual([])
    await context.close()
  })
})
