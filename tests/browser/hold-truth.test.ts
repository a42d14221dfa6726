import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { browserPath, launch, type Opened, shoot, withoutBrowser } from './browser.ts'
import { type LiveBench, startLiveBench } from './live-bench.ts'
import { violationsByDayAndNight } from './violations-of.ts'

/** The rig, whose hold a verdict may end, and the lines, whose time is prescribed. */
const holds = (text: string): string =>
  text.replace('- id: rig-10psi\n', '- id: rig-10psi\n    time: until-decided\n')

describe.skipIf(browserPath === null)(`a hold never looks right when it is wrong${withoutBrowser}`, () => {
  let browser: Browser
  let live: LiveBench
  let opened: Opened
  const page = () => opened.page
  const button = (name: string) => page().getByRole('button', { name })
  const stage = () => live.state().hold?.stage ?? 'idle'

  beforeAll(async () => {
    browser = await launch()
    live = await startLiveBench({ edit: holds })
    opened = await live.open(browser)
  })
  afterAll(async () => {
    await browser?.close()
    await live?.close()
  })

  /** The hold before is sealed: another may begin. */
  const idle = async (): Promise<void> => {
    while (live.state().sealing) await new Promise((done) => setTimeout(done, 50))
  }
  const start = (hold: string): void => {
    live.bench.session.startHold({ hold, operator: 'O. P.', witness: null, stateSheet: [], retests: null })
  }

  test('settle is offered at pressure and not at 0 psi; the hold starts after a countdown, or early by a question', async () => {
    await live.pass(30)
    start('rig-10psi')
    await page().waitForSelector('.rail >> text=Pumping up')
    expect(await button('At pressure: settle').count()).toBe(0)
    await page().waitForSelector('.stage-controls >> text=The next step comes when the gauge is at pressure')
    expect(() => live.bench.session.enterStage('settle')).toThrow(/under half of the test pressure/)
    await live.pass(60, () => live.demo.atPressure)
    await button('At pressure: settle').click()
    await page().waitForSelector('.rail >> text=Settling')

    // The message names both slopes and does not turn from one word to another on a smooth curve.
    const said = new Set<string>()
    const hear = setInterval(async () => {
      const text = await page()
        .textContent('.stage-controls p')
        .catch(() => null)
      if (text) said.add(text.replaceAll(/[\d.]+/g, '#'))
    }, 150)
    await live.pass(118)
    expect(stage()).toBe('settle')
    await button('Start the hold').click()
    await page().waitForSelector('dialog[open] >> text=Start the hold early?')
    await shoot(page(), 'start-early')
    await button('Keep settling').click()
    await live.pass(60, () => live.state().hold?.settled?.startsInS != null)
    await page().waitForSelector(
      '.stage-controls >> text=/Hands off: the hold starts in \\d+ s without a tap/',
    )
    expect(stage()).toBe('settle')
    clearInterval(hear)
    expect([...said].filter((text) => /faster|slowly/.test(text))).toEqual([])
    await live.pass(15)
    expect(stage()).toBe('hold')
  })

  test('on a hold that a verdict may end, the page says in plain words that it is decided and may be vented', async () => {
    await live.pass(150)
    await live.pass(150, () => live.state().hold?.verdict === 'pass')
    await page().waitForSelector('.decision-panel.is-pass')
    await page().waitForSelector('.stage-controls >> text=Decided: you may vent now.')
    expect(await button('Decided: vent now').getAttribute('class')).toContain('main')
    await shoot(page(), 'decided-may-vent')
  })

  test('pressure let off without a mark: the pass is gone at the next reading, the page asks why and alarms', async () => {
    live.demo.command('vent', 'rig-10psi')
    live.demo.advance(1)
    await page().waitForSelector('.lost-question >> text=Was it vented, or did a joint let go?')
    expect(await page().locator('.is-pass').count()).toBe(0)
    await page().waitForSelector('.headline >> text=Pressure lost: no verdict')
    await page().waitForSelector('.band.of-stop >> text=Pressure lost.')
    expect(live.state().hold?.verdict).toBeNull()
    await page().setViewportSize({ width: 390, height: 844 })
    await shoot(page(), 'pressure-lost-phone')
    expect(await violationsByDayAndNight(page())).toEqual([])
    await page().setViewportSize({ width: 1366, height: 768 })
    await shoot(page(), 'pressure-lost')
    // It stays off however long nobody answers.
    await live.pass(120)
    expect(await page().locator('.is-pass').count()).toBe(0)
    const fellAtS = live.state().hold!.lost!.atS
    await button('I vented it').click()
    await page().waitForSelector('.last-verdict', { timeout: 60_000 })
    const { result } = live.state().last!
    expect(result.verdict).toBe('pass')
    // The vent stands where the pressure fell, two minutes before the answer.
    const startNs = BigInt(live.state().recordingStartNs!)
    expect(Number(BigInt(result.stages.vent_ns!) - startNs) / 1e9).toBeCloseTo(fellAtS, 1)
    expect(opened.complaints.filter((one) => !one.includes('navigator.vibrate'))).toEqual([])
  })

  test('a joint that lets go is the same picture, and its hold never passes; an early end of a prescribed time is asked about', async () => {
    await live.pass(40)
    await idle()
    start('feed-lines-10psi')
    await live.pass(60, () => live.demo.atPressure)
    live.bench.session.enterStage('settle')
    await live.pass(200, () => stage() === 'hold')
    await live.pass(200, () => live.state().hold?.verdict === 'pass')
    await page().waitForSelector(
      '.stage-controls >> text=/Decided. The prescribed time runs for \\d+:\\d\\d more./',
    )
    await button('End the hold and vent').click()
    await page().waitForSelector('dialog[open] >> text=End it early?')
    await page().waitForSelector(
      'dialog[open] >> text=/of the prescribed .* are left. The reason is printed on page 1/',
    )
    await shoot(page(), 'end-early')
    await button('Keep holding').click()
    live.demo.command('vent', 'feed-lines-10psi')
    live.demo.advance(0.5)
    await page().waitForSelector('.lost-question')
    await button('A joint let go').click()
    await page().waitForSelector('.last-verdict.is-void, .last-verdict.is-fail', { timeout: 60_000 })
    expect(live.state().last!.result.reasons.map(({ code }) => code)).toContain('pressure-lost')
  })

  test('an early end of a prescribed time keeps its reason; one that a verdict may end owes none', async () => {
    await live.pass(40)
    await idle()
    start('firewall-forward-10psi')
    await live.pass(60, () => live.demo.atPressure)
    live.bench.session.enterStage('settle')
    await live.pass(60)
    live.bench.session.enterStage('hold')
    await live.pass(20)
    live.bench.session.mark({ kind: 'look', id: 'F19', fields: { finding: 'dry' } })
    await page()
      .locator('.photo-button input')
      .setInputFiles({
        name: 'IMG_0001.png',
        mimeType: 'image/png',
        buffer: await page().locator('.hold-head').screenshot(),
      })
    await page().waitForSelector('.toast >> text=Photo kept')
    await live.pass(20)
    await button('End the hold and vent').click()
    await page().waitForSelector('dialog[open] >> text=End it undecided?')
    await page().getByLabel('Another reason').fill('the door had to be opened')
    await button('End for this reason').click()
    await page().waitForSelector('.last-verdict >> text=firewall-forward-10psi', { timeout: 60_000 })
    const reason = live.state().last!.result.reasons.find(({ code }) => code === 'ended-early')
    expect(reason?.message).toMatch(/of the prescribed 10 min. Reason given: the door had to be opened/)
    expect(await page().textContent('.last-verdict')).toContain('the door had to be opened')

    // The record has it all: the look, the photo, the stages; and the one posterior that the System page shows.
    const id = live.state().last!.record
    await page().goto(`${live.url}#/records/${id}`)
    // After twelve marks the rest is folded, and these come late in the session.
    await page()
      .locator('section[aria-label="Marks"] summary', { hasText: /more mark/ })
      .click()
    await page().waitForSelector('.mark-list >> text=look F19 dry')
    const photo = page().locator('.mark-list img')
    await photo.scrollIntoViewIfNeeded()
    await page().waitForFunction(
      () => (document.querySelector('.mark-list img') as HTMLImageElement).naturalWidth > 50,
    )
    expect(live.bench.archive.get(id).photos).toHaveLength(1)
    await page().waitForSelector(
      'section[aria-label="Fittings"] >> text=From all the evidence in the archive',
    )
    await shoot(page(), 'record-live', true)
    const shown = async (selector: string) =>
      (await page().locator(selector).allInnerTexts()).map((text) => text.replaceAll(/\s+/g, ' ').trim())
    const onRecord = await shown('section[aria-label="Fittings"] .likely li')
    await page().goto(`${live.url}#/system`)
    await page().waitForSelector('.ledger-groups')
    await page().waitForSelector('.next-steps')
    const onSystem = await shown('section[aria-label="Hunt"] .likely li')
    for (const line of onRecord) {
      const [fitting, ...probability] = line.split(' ')
      const same = onSystem.find((row) => row.startsWith(fitting))
      if (same) expect(same).toContain(probability.join(' '))
    }
    await page().setViewportSize({ width: 390, height: 844 })
    await shoot(page(), 'system-live-phone', true)
    await page().setViewportSize({ width: 1366, height: 768 })
    await page().goto(`${live.url}#/hold`)
  })

  test('a full disk at pressure: the page says vent, shows the hold that still runs and never offers another', async () => {
    await live.pass(40)
    await idle()
    start('rig-10psi')
    await live.pass(60, () => live.demo.atPressure)
    live.bench.session.enterStage('settle')
    await live.pass(20)
    live.bench.session.controller.broke('the recording failed: no space left on device', live.demo.nowNs)
    await page().waitForSelector('.headline >> text=Vent now: this hold proves nothing more')
    await page().setViewportSize({ width: 390, height: 844 })
    await shoot(page(), 'broken-hold-phone')
    await page().setViewportSize({ width: 1366, height: 768 })
    await shoot(page(), 'broken-hold')
    expect(await page().locator('text=Start a hold').count()).toBe(0)
    expect(await page().locator('h1').textContent()).toBe('rig-10psi')
    await button('I am venting it now').click()
    await page().waitForSelector('.rail >> text=Venting')
  })
})
