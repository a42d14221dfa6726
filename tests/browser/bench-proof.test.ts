import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { browserPath, launch, type Opened, shoot, withoutBrowser } from './browser.ts'
import { type LiveBench, startLiveBench } from './live-bench.ts'
import { violationsByDayAndNight } from './violations-of.ts'

describe.skipIf(browserPath === null)(
  `a hold proves its own bench, by the page alone${withoutBrowser}`,
  () => {
    let browser: Browser
    let live: LiveBench
    let opened: Opened
    const page = () => opened.page
    const button = (name: string) => page().getByRole('button', { name })

    beforeAll(async () => {
      browser = await launch()
      live = await startLiveBench()
      opened = await live.open(browser, '#/hold/start/feed-lines-10psi')
    })
    afterAll(async () => {
      await browser?.close()
      await live?.close()
    })

    const stageIs = (stage: string) => () => live.state().hold?.stage === stage
    const markTexts = () => live.state().marks.map(({ kind, text }) => `${kind} ${text}`)

    /** From the start sheet to the hold. */
    async function begin(): Promise<void> {
      await button('I have read these and they are met').click()
      await page().waitForTimeout(800)
      await button('Begin the pump-up').click()
      await page().waitForSelector('.rail >> text=Pumping up')
      await live.pass(90, () => live.demo.atPressure)
      await button('At pressure: settle').click()
      await page().waitForSelector('.rail >> text=Settling')
    }

    test('supply looked at, hose taken off, known leak opened and shut: the record says that it is proven', async () => {
      await live.pass(30)
      await page().getByText('Not dry, or the hose stays on?').click()
      await button('Supply is on, cock is shut: look').click()
      await page().waitForSelector('text=/Hands off for \\d:\\d\\d more/')
      await live.pass(62)
      await page().waitForSelector('text=The look is complete')
      await begin()
      await button('Hose off, port plugged').click()
      await page().waitForSelector('text=Marked: the hose is off and the port is plugged.')
      await live.pass(260, stageIs('hold'))
      expect(await button('Open the known leak K1').count()).toBe(0)
      await live.pass(600, () => {
        const { hold, nowS } = live.state()
        return nowS !== null && hold !== null && nowS - hold.stageStartedS >= 600
      })
      await page().waitForSelector('.proof-step >> text=Prove the bench.')
      await page().setViewportSize({ width: 390, height: 844 })
      expect(await violationsByDayAndNight(page())).toEqual([])
      await shoot(page(), 'prove-the-bench')
      await page().setViewportSize({ width: 1366, height: 768 })
      await button('Open the known leak K1').click()
      await page().waitForSelector('.proof-clock')
      await live.pass(120)
      await page().waitForSelector('text=The time is over: shut it.')
      await button('Shut the known leak K1').click()
      await live.pass(30)
      await page().waitForSelector('.proof-step >> text=/Bench: .*known leak/')
      await shoot(page(), 'bench-proven')
      await button('End the hold and vent').click()
      // The second zero is waited for: the button that seals comes to the front only then.
      await page().waitForSelector('.stage-controls >> text=/until it is steady for 15 s/')
      const seal = button('Vented: seal the record')
      expect(await seal.getAttribute('class')).not.toContain('main')
      await live.pass(30, () => live.state().hold === null)
      if (live.state().hold !== null) await seal.click()
      await page().waitForSelector('.last-verdict', { timeout: 60_000 })
      const { result } = live.state().last!
      expect(result.verdict).toBe('pass')
      expect(result.proof).toMatchObject({ kind: 'known-leak', check: 'K1', proven: true })
      expect(markTexts()).toContain('supply supply off')
      expect(opened.complaints.filter((one) => !one.includes('navigator.vibrate'))).toEqual([])
    })

    test('a section that is not dry is said so on the sheet, and its hold cannot pass', async () => {
      await live.pass(60)
      await page().goto(`${live.url}#/hold/start/firewall-forward-10psi`)
      await page().getByText('Not dry, or the hose stays on?').click()
      await page().getByLabel('Fuel or its vapor is in the section').check()
      await page().waitForSelector('text=this hold cannot pass')
      expect(await page().getByText('The section is dry, and purged').count()).toBe(0)
      await begin()
      await live.pass(260, stageIs('hold'))
      await live.pass(600, () => {
        const { hold, nowS } = live.state()
        return nowS !== null && hold !== null && nowS - hold.stageStartedS >= 600
      })
      await button('End the hold and vent').click()
      await button('End and vent').click()
      await live.pass(30, () => live.state().hold === null)
      if (live.state().hold !== null) await button('Vented: seal the record').click()
      await page().waitForSelector('.last-verdict.is-undecided', { timeout: 60_000 })
      expect(live.state().last!.result.reasons.map(({ code }) => code)).toContain('not-dry')
    })

    test('a full line: the sheet asks for a syringe, and the settle for a known volume that is marked', async () => {
      const full = await startLiveBench({
        edit: (text) =>
          text.replace('id: firewall-forward\n    medium: air', 'id: firewall-forward\n    medium: avgas'),
      })
      const line = await full.open(browser, '#/hold/start/firewall-forward-10psi')
      const tap = (name: string) => line.page.getByRole('button', { name }).click()
      try {
        await full.pass(30)
        await line.page.waitForSelector('text=A syringe of known volume is connected')
        await tap('I have read these and they are met')
        await line.page.waitForTimeout(800)
        await tap('Begin the pump-up')
        await full.pass(90, () => full.demo.atPressure)
        await tap('At pressure: settle')
        await line.page.getByLabel('Pushed in, mL').fill('1.2')
        await shoot(line.page, 'push-in-a-known-volume')
        await tap('Mark: 1.2 mL pushed in')
        await line.page.waitForSelector('text=It is marked; a second one narrows the result.')
        expect(full.state().marks.some(({ kind }) => kind === 'stroke')).toBe(true)
      } finally {
        await line.context.close()
        await full.close()
      }
    })
  },
)
