import { spawnSync } from 'node:child_process'
import { mkdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { RunningBench } from '#dashboard/server/start-bench.ts'
import { DemoBench } from '#ingest/sources/demo-bench.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { benchFolder, openBench } from '#tests/dashboard/server/open-bench.ts'
import { browserPath, launch, shoot, withoutBrowser } from './browser.ts'
import { pageFolder } from './build-page.ts'
import { routePage } from './route-page.ts'

interface Focused {
  readonly words: string
  /** A ring is drawn around it, and it lies within the window. */
  readonly seen: boolean
}

const focused = (page: Page): Promise<Focused> =>
  page.evaluate(() => {
    const one = document.activeElement as HTMLElement
    if (one === document.body) return { words: '', seen: false }
    const words =
      one.getAttribute('aria-label') ??
      ((one as HTMLInputElement).labels?.[0] ?? one).textContent?.trim().replaceAll(/\s+/g, ' ') ??
      ''
    // A radio of a segmented choice lies unseen over its label, which carries the ring.
    const ring = [one, one.closest('label')].some(
      (each) =>
        each &&
        getComputedStyle(each).outlineStyle !== 'none' &&
        getComputedStyle(each).outlineWidth !== '0px',
    )
    const { top, bottom } = one.getBoundingClientRect()
    return { words, seen: ring && bottom > 0 && top < innerHeight }
  })

const atBody = ''

/** Tabs forward until what is focused says `words`; every stop on the way must be seen. */
async function tabTo(page: Page, words: RegExp): Promise<string[]> {
  const way: string[] = []
  for (let i = 0; i < 80; i++) {
    await page.keyboard.press('Tab')
    const now = await focused(page)
    way.push(now.words)
    // Past the last stop the browser's own bar has the focus, and then the first.
    if (now.words === atBody) continue
    expect(now.seen, `focus is seen on “${now.words}”`).toBe(true)
    if (words.test(now.words)) return way
  }
  throw new Error(`Tab did not reach ${words}; it went ${way.join(' | ')}`)
}

describe.skipIf(browserPath === null)(`a whole hold with the keyboard alone${withoutBrowser}`, () => {
  const at = benchFolder()
  let browser: Browser
  let bench: RunningBench
  beforeAll(async () => {
    const system = systemFromFile(readFileSync(at.systemPath, 'utf8'), 'aircraft.yaml')
    const demo = new DemoBench({ system, speed: 20, seed: 3, leaking: {} })
    bench = await openBench(at, { ports: [{ port: demo }], demo, demoOperator: false })
    browser = await launch()
  })
  afterAll(async () => {
    await browser?.close()
    await bench?.stop()
    at.remove()
  })

  test('from the first page to the test report, which verify finds whole', { timeout: 300_000 }, async () => {
    const context = await browser.newContext({
      viewport: { width: 1366, height: 768 },
      reducedMotion: 'reduce',
      acceptDownloads: true,
    })
    const page = await context.newPage()
    await routePage(page)
    await page.goto(bench.server.url)
    await page.waitForSelector('.figure-number:has-text(".")')
    expect(await tabTo(page, /^Start a hold$/)).toContain('Skip to the content')
    await page.keyboard.press('Enter')

    await page.waitForSelector('.hold-choices')
    await tabTo(page, /^rig-10psi/)
    await page.keyboard.press('Enter')
    await page.waitForSelector('.sentences')
    await page.waitForSelector('.sensor-list .is-proven')
    await tabTo(page, /^Operator/)
    await page.keyboard.press('Enter')
    await tabTo(page, /^Operator$/)
    await page.keyboard.type('O. P.')
    await shoot(page, 'keyboard-start')
    await tabTo(page, /^I have read these/)
    await page.keyboard.press('Enter')
    await page.waitForTimeout(800)
    expect((await focused(page)).words).toBe('Begin the pump-up')
    await page.keyboard.press('Enter')

    await page.waitForSelector('.rail')
    // The step is offered only at pressure: before, Tab passes it by.
    await page.waitForFunction(() => Number(document.querySelector('.figure-number')?.textContent) > 10)
    await page.waitForSelector('button:has-text("At pressure: settle")')
    await tabTo(page, /^At pressure: settle$/)
    await page.keyboard.press('Enter')
    await page.waitForSelector('.rail li.is-now:has-text("Settle")')
    // The next step takes the place of the one before, under the same focus.
    expect((await focused(page)).words).toBe('Start the hold')
    await page.waitForSelector('.decision-panel', { timeout: 60_000 })
    await page.keyboard.press('m')
    await tabTo(page, /^F23/)
    await page.keyboard.press('Enter')
    await tabTo(page, /^dry$/)
    await page.keyboard.press('Enter')
    await page.waitForSelector('.toast >> text=Marked: F23 dry')
    await page.keyboard.press('n')
    await page.keyboard.type('hangar door shut')
    await page.keyboard.press('Enter')
    await page.waitForSelector('.toast >> text=Marked: note')
    await page.keyboard.press('?')
    await page.waitForSelector('dialog[open] >> text=To the fittings, to mark one')
    await shoot(page, 'keyboard-keys')
    await page.keyboard.press('Escape')

    await page.waitForSelector('.decision-panel.is-decided', { timeout: 180_000 })
    // Its time is prescribed: ended before that is over, the page asks for a reason.
    await page.waitForSelector(
      '.stage-controls >> text=/Open the vent slowly|This hold proves nothing more. Vent it/',
      { timeout: 120_000 },
    )
    await tabTo(page, /^End the hold and vent$/)
    await page.keyboard.press('Enter')
    await page.waitForSelector('.rail li.is-now:has-text("Vent")', { timeout: 15_000 })
    await page.waitForSelector('.last-verdict', { timeout: 120_000 })
    await tabTo(page, /^Open the record$/)
    await shoot(page, 'keyboard-verdict')
    await page.keyboard.press('Enter')
    await page.waitForSelector('.record-head .verdict-word')
    await tabTo(page, /^Test report$/)
    const coming = page.waitForEvent('download')
    await page.keyboard.press('Enter')
    const pdf = join(pageFolder, '..', 'keyboard-report.pdf')
    mkdirSync(join(pageFolder, '..'), { recursive: true })
    await (await coming).saveAs(pdf)

    const { status, stdout } = spawnSync(
      process.execPath,
      ['--import', 'tsx', 'dashboard/cli/main.ts', 'verify', pdf],
      { encoding: 'utf8' },
    )
    const [{ verdict }] = bench.archive.list()
    expect([status, verdict], stdout).toEqual([verdict === 'pass' ? 0 : 12, verdict])
    expect(verdict).toMatch(/^(pass|void)$/)
    await context.close()
  })
})
