import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { browserPath, launch, type Opened, shoot, withoutBrowser } from './browser.ts'
import { type LiveBench, startLiveBench } from './live-bench.ts'
import { violationsByDayAndNight } from './violations-of.ts'

const phone = { width: 390, height: 844 }

describe.skipIf(browserPath === null)(`hands with gloves on a phone${withoutBrowser}`, () => {
  let browser: Browser
  let live: LiveBench
  let opened: Opened
  const page = () => opened.page
  const button = (name: string | RegExp) => page().getByRole('button', { name })
  const marks = () => live.state().marks.filter(({ kind }) => kind !== 'stage')
  const marked = async (text: string): Promise<void> => {
    await expect.poll(() => marks().at(-1)?.text, { timeout: 15_000 }).toBe(text)
  }

  beforeAll(async () => {
    browser = await launch()
    live = await startLiveBench()
    await live.pass(30)
    opened = await live.open(browser, '', phone)
    await page().waitForSelector('.figure-number:has-text(".")')
  })
  afterAll(async () => {
    await browser?.close()
    await live?.close()
  })

  test('work is marked on a fitting’s panel with torque and name, which are remembered, and undone by one tap', async () => {
    await page().goto(`${live.url}#/system/F23`)
    await page().getByLabel('Torque, N·m').fill('14.1')
    await page().getByLabel('Done by').fill('O. P.')
    await button('I retightened F23').click()
    await marked('retighten, 14.1 N·m')
    await shoot(page(), 'hands-work', true)
    await button('Undo').click()
    await expect.poll(marks, { timeout: 15_000 }).toEqual([])
    expect(live.bench.archive.list({ kind: 'correction' })).toHaveLength(1)
    await page().reload()
    expect(await page().getByLabel('Torque, N·m').inputValue()).toBe('14.1')
    expect(await page().getByLabel('Done by').inputValue()).toBe('O. P.')
    await button('Plug in').click()
    await marked('in true')
    await button('Plug out').click()
    await marked('in false')
    await page().goto(`${live.url}#/system/F07`)
    await button(/^V\d+ opened$/)
      .first()
      .click()
    await marked('opened')
    expect(await violationsByDayAndNight(page())).toEqual([])
  })

  test('after the ten seconds of the undo a mark is taken back from the list of marks', async () => {
    await page().goto(`${live.url}#/system/F23`)
    const before = marks().length
    await page().click('.mark-list summary')
    await button('Take back F23 in false').click()
    await expect.poll(() => marks().length, { timeout: 15_000 }).toBe(before - 1)
  })

  test('marks made without a network wait on the phone, over a reload too, and come at their time', async () => {
    await page().route('**/api/mark', (route) => route.abort())
    const before = marks().length
    await page().getByRole('button', { name: 'bubbles', exact: true }).click()
    await page().waitForSelector('.toast >> text=No network. Kept on this device: F23 bubbles.')
    await button('Undo').click()
    await button('seep').click()
    await page().waitForSelector('.call >> text=1 mark waits on this device')
    await shoot(page(), 'hands-offline')
    await page().reload()
    await page().waitForSelector('.call >> text=1 mark waits on this device')
    expect(marks()).toHaveLength(before)
    const keptS = live.bench.session.nowS!
    await live.pass(20)
    await page().unroute('**/api/mark')
    await marked('seep')
    await page().waitForSelector('.call', { state: 'detached' })
    // It stands where it was made, not where it arrived.
    expect(Math.abs(marks().at(-1)!.timeS - keptS)).toBeLessThan(30)
    expect(opened.complaints).toEqual([])
  })

  /** Words on the page that a volunteer may have to read. */
  const words = (): Promise<number> =>
    page()
      .locator('main')
      // biome-ignore lint/performance/useDomNodeTextContent: only what is seen counts
      .innerText()
      .then((text) => text.split(/\s+/).length)
  /** What a glove would miss: anything to tap that is smaller than 48 × 48 pixels. */
  const small = () =>
    page().evaluate(() =>
      [
        ...document.querySelectorAll(
          'main :is(button, a, summary, label, select), .call button, dialog[open] button',
        ),
      ]
        .map((one) => ({ words: one.textContent, ...one.getBoundingClientRect().toJSON() }))
        .filter(({ width, height }) => width > 0 && (width < 47.9 || height < 47.9))
        .map(({ words, width, height }) => `${words} ${Math.round(width)} × ${Math.round(height)}`),
    )
  /** All of the sheet stands above the bar of the button, and the bar in the lower part of the screen. */
  const fits = () =>
    page().evaluate(() => {
      const bar = document.querySelector('.start-action')!.getBoundingClientRect()
      const sheet = document.querySelector('.start-sheet')!
      const bottoms = [...sheet.querySelectorAll('li, summary, p')]
        .filter((one) => !one.closest('.start-action') && one.checkVisibility())
        .map((one) => one.getBoundingClientRect().bottom)
      return Math.max(...bottoms) <= bar.top && bar.top > innerHeight / 2 && bar.bottom <= innerHeight
    })
  const endHold = async (): Promise<void> => {
    const before = live.state().last?.record
    // Vented, as the next start wants the gauge at zero.
    live.bench.session.enterStage('vent')
    await live.pass(90, () => live.state().hold === null)
    await live.pass(10)
    await expect.poll(() => live.state().last?.record, { timeout: 120_000 }).not.toBe(before)
  }

  test('a start takes four taps on one phone screen, a retest two: what was read and set today is remembered', {
    timeout: 400_000,
  }, async () => {
    await page().goto(live.url)
    let taps = 0
    const tap = async (name: string | RegExp): Promise<void> => {
      await page().locator('main').getByRole('link', { name }).or(button(name)).first().click()
      taps++
    }
    await tap('Start a hold')
    expect(await small()).toEqual([])
    await tap(/^rig-10psi/)
    await page().waitForSelector('.plan-answer', { timeout: 120_000 })
    // A real bench does not say that it is a demo.
    await page()
      .locator('.band.of-note')
      .evaluate((band) => {
        band.style.display = 'none'
      })
    const first = await words()
    await shoot(page(), 'hands-start')
    expect(await fits()).toBe(true)
    expect(await small()).toEqual([])
    expect(await violationsByDayAndNight(page())).toEqual([])
    await tap('I have read these and they are met')
    await page().waitForTimeout(800)
    await tap('Begin the pump-up')
    await page().waitForSelector('.rail')
    expect([taps, live.state().hold?.stage]).toEqual([4, 'pump-up'])
    expect(await small()).toEqual([])
    await shoot(page(), 'hands-pump-up')
    // A stage is undone by one tap too: settling began by mistake, pumping goes on.
    await live.pass(90, () => live.state().hold?.atPressure === true)
    await button('At pressure: settle').click()
    await expect.poll(() => live.state().hold?.stage, { timeout: 15_000 }).toBe('settle')
    await button('Undo').click()
    await expect.poll(() => live.state().hold?.stage, { timeout: 15_000 }).toBe('pump-up')
    expect(live.state().marks.filter(({ kind, text }) => kind === 'stage' && text === 'settle')).toEqual([])
    await endHold()
    await page().waitForSelector('.last-verdict')
    expect(await small()).toEqual([])

    taps = 0
    await tap('Retest')
    await page().waitForSelector('.plan-answer', { timeout: 120_000 })
    await page().waitForSelector('text=/Cautions: \\d+ read at \\d\\d:\\d\\d/')
    const again = await words()
    expect(await fits()).toBe(true)
    await shoot(page(), 'hands-retest')
    await tap('Begin the pump-up')
    await page().waitForSelector('.rail')
    expect([taps, live.state().hold?.stage]).toEqual([2, 'pump-up'])
    // A start was 405 words before; both figures are of this page with all that stands around the sheet.
    expect(first).toBeLessThan(230)
    expect(again).toBeLessThan(110)
    await endHold()
  })

  test('of a state sheet that is remembered, only what changed since is asked again', {
    timeout: 400_000,
  }, async () => {
    const [valve] = live.bench.session.systemFile.system!.holds.find(({ shut }) => shut.length > 0)!.shut
    const hold = live.bench.session.systemFile.system!.holds.find(({ shut }) => shut.includes(valve))!.id
    await page().goto(`${live.url}#/hold/start/${hold}`)
    await button('I have read these and they are met').click()
    await page().waitForTimeout(800)
    await button('Begin the pump-up').click()
    await page().waitForSelector('.rail')
    await endHold()
    live.bench.session.mark({ kind: 'valve', id: valve, fields: { open: true } })
    await page().goto(`${live.url}#/hold/start/${hold}`)
    await page().waitForSelector('h2:has-text("State sheet: changed")')
    const asked = await page().locator('.sentences > ul > li').allTextContents()
    expect(asked).toEqual([expect.stringMatching(new RegExp(`^${valve} .* is shut$`))])
    await shoot(page(), 'hands-changed')
    expect(opened.complaints).toEqual([])
  })
})
