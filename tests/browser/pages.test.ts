import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { browserPath, launch, open, shoot, withoutBrowser } from './browser.ts'
import { pageFolder } from './build-page.ts'
import { type StandIn, startStandIn } from './stand-in.ts'
import { stages } from './stand-in-curve.ts'
import { dayLongId, recordIds } from './stand-in-records.ts'
import { violationsOf } from './violations-of.ts'

const views = [
  { name: 'hold', path: '#/hold', idle: false },
  { name: 'verdict', path: '#/hold', idle: true },
  { name: 'start', path: '#/hold/start/left-feed-10psi', idle: true },
  { name: 'system', path: '#/system/F07', idle: true },
  { name: 'draw', path: '#/system/draw/fittings/F07', idle: true },
  { name: 'campaign', path: '#/system/campaign', idle: true },
  { name: 'records', path: '#/records', idle: true },
  { name: 'history', path: '#/records/history', idle: true },
  { name: 'record', path: `#/records/${recordIds[1]}`, idle: true },
  { name: 'overlay', path: `#/records/${recordIds[1]}/over/${recordIds[0]}`, idle: true },
  { name: 'setup', path: '#/setup', idle: true },
] as const

const sizes = [
  { name: 'phone', width: 360, height: 780 },
  { name: 'laptop', width: 1366, height: 768 },
  { name: '4k', width: 3840, height: 2160 },
] as const

describe.skipIf(browserPath === null)(`every page${withoutBrowser}`, () => {
  let browser: Browser
  let bench: StandIn
  beforeAll(async () => {
    browser = await launch()
    bench = await startStandIn({ folder: pageFolder })
    bench.at(stages.holdS + 150)
  })
  afterAll(async () => {
    await browser?.close()
    await bench?.close()
  })

  for (const view of views) {
    for (const look of ['day', 'night'] as const) {
      test(`${view.name} by ${look}: axe finds nothing (WCAG 2.2 AA), nothing runs over the edge from 360 px to 4K`, async () => {
        bench.at(stages.holdS + 150)
        bench.idle(view.idle)
        const { page, context, complaints } = await open(browser, bench.url + view.path, sizes[0], look)
        await page.waitForSelector('h1')
        for (const size of sizes) {
          await page.setViewportSize(size)
          await page.waitForTimeout(700)
          const over = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth)
          expect(over, `${size.name}: runs over by`).toBeLessThanOrEqual(0)
          await shoot(page, `${view.name}-${look}-${size.name}`, size.name === 'phone')
          expect(await violationsOf(page)).toEqual([])
        }
        expect(complaints).toEqual([])
        await context.close()
      })
    }
  }

  test('the keyboard alone reaches a fitting of the drawing, opens it and leaves it', async () => {
    bench.idle(true)
    const { page, context, complaints } = await open(browser, bench.url)
    await page.waitForSelector('h1')
    await page.keyboard.press('2')
    await page.waitForSelector('.fitting')
    await page.locator('.fitting[aria-label^="F12"]').focus()
    await page.keyboard.press('Enter')
    await page.waitForSelector('.fitting-panel >> text=strainer bowl')
    expect(await page.locator('.fitting[aria-label^="F12"]').getAttribute('aria-pressed')).toBe('true')
    await page.keyboard.press('3')
    await page.waitForSelector('h1:has-text("Records")')
    await page.keyboard.press('?')
    await page.waitForSelector('dialog[open] >> text=Keys')
    await page.keyboard.press('Escape')
    expect(complaints).toEqual([])
    await context.close()
  })

  test('a fitting tapped on a phone brings its history into sight, and closing it leads back to the drawing', async () => {
    bench.idle(true)
    const { page, context } = await open(browser, `${bench.url}#/system`, sizes[0])
    await page.waitForSelector('.ledger-groups')
    await page.locator('.fitting[aria-label^="F07"]').click()
    const panel = page.locator('.fitting-panel')
    await panel.getByText('On record for left-feed').waitFor()
    const { top, of } = await panel.evaluate((one) => ({
      top: one.getBoundingClientRect().top,
      of: innerHeight,
    }))
    expect(top).toBeGreaterThanOrEqual(0)
    expect(top).toBeLessThan(of / 2)
    const small = await page.evaluate(() =>
      [...document.querySelectorAll('main a, main input')]
        // What a fold hides has a size all the same.
        .filter((one) => one.checkVisibility())
        .map((one) => one.getBoundingClientRect())
        .filter(({ width, height }) => width < 24 || height < 24),
    )
    expect(small).toEqual([])
    await panel.getByText('Close').click()
    await panel.waitFor({ state: 'detached' })
    expect(await page.evaluate(() => document.activeElement?.getAttribute('aria-label'))).toMatch(/^F07/)
    await context.close()
  })

  test('the System page is short: 300 words and three screens of a phone, a line for each section and what closes it', async () => {
    bench.idle(true)
    const { page, context } = await open(browser, `${bench.url}#/system`, sizes[0])
    await page.waitForSelector('.ledger-groups')
    await page.waitForSelector('.next-steps')
    await shoot(page, 'system-short-phone', true)
    const [text] = await page.locator('main').allInnerTexts()
    const words = text.split(/\s+/).filter(Boolean).length
    const screens = await page.evaluate(() => document.documentElement.scrollHeight / innerHeight)
    expect({ words, screens }).toEqual({ words: Math.min(words, 300), screens: Math.min(screens, 3) })
    const lines = await page.locator('.ledger-groups li').allInnerTexts()
    expect(lines).toHaveLength(6)
    expect(lines[0].replaceAll(/\s+/g, ' ')).toMatch(
      /^left-feed F07 failed, 3 proven left-feed-10psi, 15 min$/,
    )
    await page.waitForSelector('text=2 holds, about 60 min, close it once F07 is repaired and V6 is out.')
    await page.getByText('All 16 fittings').click()
    await page.waitForSelector('.ledger-table >> text=strainer bowl')
    await context.close()
  })

  test('the campaign shows what is done and what comes, and a plug is marked out with one tap', async () => {
    bench.idle(true)
    const { page, context } = await open(browser, `${bench.url}#/system`, sizes[0])
    await page.getByRole('link', { name: 'Campaign' }).click()
    const steps = page.getByRole('region', { name: 'Campaign' }).getByRole('listitem')
    await steps.nth(2).waitFor()
    expect(await steps.nth(0).textContent()).toContain(recordIds[0])
    expect(await steps.nth(1).textContent()).toMatch(
      /F07\. Shut V1, V2\. Gauge p-left on left-feed\. 10 psi, settle 2 min, hold 10 min/,
    )
    const marked = page.waitForRequest((request) => request.url().endsWith('/api/mark'))
    await steps.nth(2).getByRole('button', { name: 'V6 is out' }).click()
    expect((await marked).postDataJSON()).toMatchObject({ kind: 'plug', id: 'V6', fields: { in: false } })
    await context.close()
  })

  test('the looks of the hunt take one tap each, until one bubbles or none of them does', async () => {
    bench.idle(true)
    const { page, context } = await open(browser, `${bench.url}#/system`, sizes[0])
    const looks = page.getByRole('region', { name: 'Looks' })
    const marked = page.waitForRequest((request) => request.url().endsWith('/api/mark'))
    await looks.getByRole('button', { name: 'Dry' }).click()
    expect((await marked).postDataJSON()).toMatchObject({
      kind: 'look',
      id: 'F07',
      fields: { finding: 'dry' },
    })
    await looks.getByText('None of these: F07.').waitFor()
    await looks.getByRole('button', { name: 'End the looks' }).click()
    await looks.getByRole('button', { name: 'Bubbles' }).click()
    await looks.getByText('This one: F07. Vent before you work on it.').waitFor()
    await looks.getByRole('button', { name: 'Mark the work' }).click()
    await page.waitForSelector('dialog[open] >> text=Done to F07')
    await page.getByRole('button', { name: 'I retightened F07' }).waitFor()
    await context.close()
  })

  test('a hose or a wall of a section that bubbles is worked on as a fitting is, without torque and plug', async () => {
    bench.idle(true)
    const { page, context } = await open(browser, 'about:blank', sizes[0])
    await page.route('**/api/hunt*', async (route) => {
      const hunt = await (await route.fetch()).json()
      hunt.next[0].places = ['left-feed']
      await route.fulfill({ json: hunt })
    })
    await page.goto(`${bench.url}#/system`)
    const looks = page.getByRole('region', { name: 'Looks' })
    await looks.getByText('hoses, seams and walls of left-feed').waitFor()
    await looks.getByRole('button', { name: 'Bubbles' }).click()
    await looks.getByRole('button', { name: 'Mark the work' }).click()
    const tools = page.getByRole('dialog', { name: 'left-feed hoses, seams and walls' })
    await tools.getByText('replace', { exact: true }).click()
    await shoot(page, 'work-on-a-section')
    expect(await tools.getByLabel('Torque, N·m').count()).toBe(0)
    expect(await tools.getByRole('button', { name: 'Plug in' }).count()).toBe(0)
    expect(await violationsOf(page)).toEqual([])
    const marked = page.waitForRequest((request) => request.url().endsWith('/api/mark'))
    await tools.getByRole('button', { name: 'I replaced left-feed' }).click()
    const work = { kind: 'work', id: 'left-feed', fields: { action: 'replace' } }
    expect((await marked).postDataJSON()).toMatchObject(work)
    await context.close()
  })

  test('work is marked with torque and name after a seal, from the record and from the hunt, which remember them', async () => {
    bench.idle(true)
    const { page, context } = await open(browser, `${bench.url}#/records/${recordIds[1]}`, sizes[0])
    const mark = async (done: string): Promise<unknown> => {
      const posted = page.waitForRequest((request) => request.url().endsWith('/api/mark'))
      await page.getByRole('button', { name: done }).click()
      return (await posted).postDataJSON()
    }
    await page.locator('.fitting-pad').getByText('F07').click()
    await page.getByLabel('Torque, N·m').fill('12.4')
    await page.getByLabel('Done by').fill('O. P.')
    const work = { kind: 'work', id: 'F07', fields: { action: 'retighten', torque_Nm: 12.4, by: 'O. P.' } }
    expect(await mark('I retightened F07')).toMatchObject(work)
    await page.goto(`${bench.url}#/hold`)
    await page.waitForSelector('.last-verdict')
    await page.locator('.fitting-pad').getByText('F07').click()
    expect(await mark('I retightened F07')).toMatchObject(work)
    await page.goto(`${bench.url}#/system`)
    await page
      .getByRole('region', { name: 'Hunt' })
      .getByRole('button', { name: 'Mark work on F07' })
      .first()
      .click()
    await page.getByRole('radio', { name: 'remake' }).check()
    await page.getByLabel('Sealant cures for').fill('24 h')
    expect(await mark('I remade F07')).toMatchObject({
      ...work,
      fields: { ...work.fields, action: 'remake', cure: '24 h' },
    })
    await context.close()
  })

  test('the history of a section draws each hold with its interval, marks the work and tells the changes', async () => {
    bench.idle(true)
    const { page, context } = await open(browser, `${bench.url}#/records`, sizes[1])
    await page.getByRole('link', { name: 'History of each section' }).click()
    await page.getByRole('img', { name: 'Holds: 4, work: 1, changes of the leak: 2' }).waitFor()
    // The axis of the leak has its figures: something is written left of the frame.
    const written = await page.locator('.plot canvas').evaluate((canvas: HTMLCanvasElement) => {
      const { data } = canvas.getContext('2d')!.getImageData(0, 0, 40, canvas.height)
      return data.filter((value, i) => i % 4 === 3 && value > 128).length
    })
    expect(written).toBeGreaterThan(50)
    const gauges = page.getByRole('region', { name: 'Gauges' }).getByRole('listitem')
    expect(await gauges.allTextContents()).toEqual([
      expect.stringMatching(/^SN-4411: 5 holds, newest zero .* It drifts: /),
      expect.stringMatching(/^p-right: 5 holds, newest zero .* No drift shows: /),
    ])
    expect(await page.getByRole('row').nth(1).textContent()).toMatch(/remake F07the leak fell/)
    expect(await page.getByRole('row').nth(2).textContent()).toContain('the leak grew')
    await context.close()
  })

  test('a record shows its marks at local time with the zone, its stage lines, its state sheet and no 0 %', async () => {
    bench.idle(true)
    const { page, context } = await open(browser, `${bench.url}#/records/${recordIds[1]}`, sizes[1])
    await page.waitForSelector('.mark-list >> text=door opened, sun on the wing')
    expect(await page.textContent('section[aria-label="Marks"] h2')).toMatch(/local time, UTC[+−]\d/)
    expect(await page.textContent('.record-head')).toMatch(/sealed .* UTC[+−]\d/)
    await page.waitForSelector('.checked-list >> text=V1 (left shut-off) is shut')
    await page
      .getByRole('img', { name: 'What makes the interval wide: drift of the gauge 62 %, noise and steps' })
      .waitFor()
    await page.waitForSelector('text=Improve first: a gauge that drifts less')
    // One posterior, of all the evidence, with its time; what a hold alone would say is not mixed in.
    const fittings = page.locator('section[aria-label="Fittings"]')
    expect((await fittings.allInnerTexts())[0].replaceAll(/\s+/g, ' ')).toMatch(
      /F07 selector inlet 83 % .* F06 tank outlet 21 % .* F08 cabin hose 8 % .* From all the evidence in the archive, taken/,
    )
    expect(await page.textContent('main')).not.toMatch(/(?<![\d.])0 %/)
    await shoot(page, 'record-marks', true)
    await context.close()
  })

  test('the plan shows before the hold what will make its interval wide, in one bar within its place', async () => {
    bench.idle(true)
    for (const size of sizes) {
      const { page, context } = await open(browser, `${bench.url}#/hold/start/left-feed-10psi`, size)
      await page.click('.plan summary')
      const bar = page
        .locator('.plan')
        .getByRole('img', { name: /^What makes the interval wide: .+ \d+ %, / })
      const [within, around] = [(await bar.boundingBox())!, (await page.locator('.plan').boundingBox())!]
      expect(within.width).toBeGreaterThan(0.8 * around.width)
      expect(within.x + within.width).toBeLessThanOrEqual(around.x + around.width)
      expect(await page.textContent('.plan .budget')).toContain('Improve first: ')
      await shoot(page, `plan-budget-${size.name}`, size.name === 'phone')
      await context.close()
    }
  })

  test('each chart has a summary in words and a table of its figures for a screen reader', async () => {
    bench.at(stages.holdS + 150)
    bench.idle(false)
    const { page, context } = await open(browser, bench.url, sizes[1])
    const spoken = async (charts: number) => {
      const figures = page.locator('main figure')
      await expect.poll(() => figures.locator('.unseen table').count(), { timeout: 15_000 }).toBe(charts)
      // None without: what is drawn is also said.
      expect(await figures.count()).toBe(charts)
      for (let chart = 0; chart < charts; chart++) {
        const rows = figures.nth(chart).locator('tbody tr')
        expect(await rows.count()).toBeGreaterThan(3)
        // A stream's figures follow it slowly, so that they do not change while they are read.
        await expect.poll(() => rows.last().textContent(), { timeout: 15_000 }).toMatch(/^\d+:\d\d.*\d\.\d/)
      }
      const said = await figures.locator('.unseen p').allTextContents()
      expect(said).toHaveLength(charts)
      return said
    }
    await page.waitForSelector('.estimate-line')
    const first = await spoken(4)
    const decision = page
      .getByRole('table', { name: /^Leak against the allowance/ })
      .locator('tbody tr')
      .last()
    const said = async () => (await page.locator('main figure .unseen p').allTextContents()).join(' ')
    await expect
      .poll(said, { timeout: 15_000 })
      .toMatch(
        /as read (falls|rises) from [\d.]+ to [\d.]+ psi in \d:\d\d, lowest .*; compensated falls from/,
      )
    expect(first.join(' ')).toMatch(/Leak [\d.]+ psi over the hold, between .*; 0\.100 psi is allowed/)
    // The newest look, as it stands beside the picture: leak, at least, at most.
    const differ = async (): Promise<string[]> => {
      const told = await decision.locator('td').allTextContents()
      const shown = (await page.locator('.estimate-line dd').allTextContents()).slice(0, 2).join(' ')
      return told.filter((one, i) => one !== shown.match(/−?[\d.]+/g)?.[i])
    }
    await expect.poll(differ).toEqual([])
    bench.idle(true)
    await page.goto(`${bench.url}#/records/${recordIds[1]}`)
    expect((await spoken(3))[0]).toMatch(/compensated falls from [\d.]+ to [\d.]+ psi/)
    await page.goto(`${bench.url}#/records/history`)
    await page.getByRole('img', { name: /^Holds: 4, work: 1/ }).waitFor()
    expect(await page.getByRole('table').locator('tbody tr').count()).toBe(4)
    await context.close()
  })

  test('on paper nothing is missing: a chart has its curves, the drawing its right end, a demo says that it is one', async () => {
    bench.at(stages.holdS + 150)
    bench.idle(false)
    const paper = { width: 794, height: 1123 }
    const { page, context } = await open(browser, bench.url, sizes[1], 'night')
    await page.waitForSelector('.decision-panel')
    await page.emulateMedia({ media: 'print' })
    const heights = await page
      .locator('.plot')
      .evaluateAll((all) => all.map((one) => one.getBoundingClientRect().height))
    expect(heights).toHaveLength(4)
    expect(Math.min(...heights)).toBeGreaterThan(60)
    expect(await page.getByText('Nothing here was measured').isVisible()).toBe(true)
    await page.emulateMedia({ media: 'screen' })
    bench.idle(true)
    await page.click('.pages >> text=System')
    await page.waitForSelector('.fitting')
    await page.emulateMedia({ media: 'print' })
    await page.setViewportSize(paper)
    const ends = await page
      .locator('.section-wall')
      .evaluateAll((all) => all.map((one) => one.getBoundingClientRect().right))
    expect(Math.max(...ends)).toBeLessThan(paper.width)
    await context.close()
  })

  test('three records are picked and laid over each other, each with a line and a row of its own', async () => {
    bench.idle(true)
    const { page, context } = await open(browser, `${bench.url}#/records`, sizes[1])
    const ids = [recordIds[3], recordIds[1], recordIds[0]]
    for (const id of ids) await page.getByLabel(`Pick ${id}`).check()
    await page.getByRole('button', { name: 'Overlay' }).click()
    await page.getByRole('heading', { name: '3 holds' }).waitFor()
    expect(await page.locator('.keys .key').allTextContents()).toEqual(ids.map((id, i) => `${i + 1}: ${id}`))
    const rows = page.getByRole('region', { name: 'Figures side by side' }).getByRole('row')
    expect(await rows.count()).toBe(4)
    await context.close()
  })

  test('two holds of which one is void are laid over each other without a word of a change between them', async () => {
    bench.idle(true)
    const { page, context } = await open(browser, `${bench.url}#/records/${dayLongId}/over/${recordIds[0]}`)
    await page.waitForSelector('.note.is-void >> text=the comparison proves nothing')
    expect(await page.textContent('main')).not.toContain('The intervals')
    await context.close()
  })

  test('a switch of units changes figures, plan and records at once', async () => {
    bench.idle(true)
    const { page, context } = await open(browser, `${bench.url}#/setup`)
    await page.getByRole('group', { name: 'Pressure' }).getByLabel('kPa').check()
    await page.getByLabel('°F').check()
    await page.click('.pages >> text=Hold')
    await page.waitForSelector('.figure-unit:has-text("kPa")')
    expect(await page.textContent('.figures-table')).toContain('kPa')
    expect(await page.textContent('.figure-panel')).toContain('°F')
    await page.click('.pages >> text=Records')
    await page.getByRole('link', { name: recordIds[1] }).click()
    await page.waitForSelector('.figures-table >> text=kPa')
    await context.close()
  })

  test('an error in the system file is shown at its line and taken to by a button', async () => {
    bench.idle(true)
    const { page, context } = await open(browser, `${bench.url}#/setup/file`)
    const editor = page.getByLabel('System file').locator('visible=true').last()
    await page.waitForSelector('.editor textarea')
    const text = await page.inputValue('.editor textarea')
    await page.fill('.editor textarea', text.replace('    pressure: 10 psi', '    presure: 10 psi'))
    await page.getByRole('button', { name: 'Check and save' }).click()
    await page.waitForSelector('.file-errors')
    const line = text.split('\n').findIndex((one) => one.startsWith('    pressure:')) + 1
    expect(await page.textContent('.file-errors')).toContain(`Line ${line}`)
    expect(await page.textContent('.gutter .is-failed')).toContain(String(line))
    await page.click(`text=Line ${line}`)
    expect(await page.evaluate(() => getSelection()?.toString() ?? '')).toContain('presure')
    await shoot(page, 'setup-file-error')
    expect(await editor.count()).toBe(1)
    await context.close()
  })

  test('a record of 24 hours opens in slices and zooms to single readings', async () => {
    bench.idle(true)
    const { page, context } = await open(browser, `${bench.url}#/records/${dayLongId}`)
    await page.waitForSelector('h2:has-text("24:00:00")')
    await page.waitForTimeout(500)
    await shoot(page, 'record-24h', true)
    const asked: string[] = []
    page.on('request', (request) => {
      if (request.url().includes('/columns')) asked.push(request.url())
    })
    for (let i = 0; i < 9; i++) {
      await page.getByRole('button', { name: 'Closer' }).click()
      await page.waitForTimeout(150)
    }
    const last = new URL(asked.at(-1)!).searchParams
    // 24 h · 0.4^9 is 23 s; at the stand-in's 10 readings a second that is fewer than the slices asked for.
    expect(Number(last.get('to')) - Number(last.get('from'))).toBeLessThan(30)
    await shoot(page, 'record-24h-close')
    await page.getByRole('button', { name: 'All of it' }).click()
    await page.waitForSelector('h2:has-text("24:00:00")')
    await context.close()
  })
})
