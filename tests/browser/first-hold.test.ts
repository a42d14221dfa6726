import { execFile } from 'node:child_process'
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { LiveState } from '#dashboard/api.ts'
import { hasSocat, PseudoTerminal } from '#tests/ingest/sources/pseudo-terminal.ts'
import { browserPath, launch, type Opened, open, shoot, withoutBrowser } from './browser.ts'
import { routePage } from './route-page.ts'
import { ended, type RunningProgram, serveProgram } from './serve-program.ts'
import { violationsByDayAndNight } from './violations-of.ts'

const loggerBaud = '9600'
const withoutSocat = hasSocat ? '' : ' (skipped: no socat)'

describe.skipIf(browserPath === null || !hasSocat)(
  `a first hold with a logger of unknown rate and no system file${withoutBrowser}${withoutSocat}`,
  () => {
    let browser: Browser
    let opened: Opened
    let program: RunningProgram
    const folder = mkdtempSync(join(tmpdir(), 'stillhold-first-'))
    const line = new PseudoTerminal()
    const timers: NodeJS.Timeout[] = []
    /** The rate to which the program has set the terminal; another than the logger's makes garbage of its bytes. */
    let speed = ''
    const now = { psi: 0.01, towardsPsi: 0.01, degC: 20, towardsDegC: 20, count: 0 }
    const page = () => opened.page
    const button = (name: string | RegExp) => page().getByRole('button', { name })
    const fill = (label: string, text: string) => page().getByLabel(label, { exact: true }).fill(text)
    const state = async (): Promise<LiveState> =>
      (await (await fetch(`${program.url}/api/state`)).json()) as LiveState
    const noise = (): number => (Math.random() - 0.5) * 2

    beforeAll(async () => {
      browser = await launch()
      await line.plug()
      timers.push(
        setInterval(() => {
          execFile('stty', ['-F', line.path, 'speed'], (_, said) => (speed = said?.trim() ?? ''))
        }, 300),
        setInterval(() => {
          now.psi += (now.towardsPsi - now.psi) * 0.2
          now.degC += (now.towardsDegC - now.degC) * 0.1
          const text = `n=${now.count++} press=${(now.psi + 0.002 * noise()).toFixed(4)} probe=${(now.degC + 0.02 * noise()).toFixed(2)} baro=${(1013.2 + 0.05 * noise()).toFixed(2)}\n`
          const bytes = Buffer.from(text)
          line.write(speed === loggerBaud ? bytes : bytes.map((byte) => byte | 0x80))
        }, 100),
      )
      program = await serveProgram(
        '--port',
        line.path,
        '--data',
        join(folder, 'data'),
        '--listen',
        '127.0.0.1:0',
      )
      opened = await open(browser, 'about:blank', { width: 390, height: 844 })
      await routePage(opened.page)
      await opened.page.goto(`${program.url}/#/system/draw`)
    }, 60_000)
    afterAll(async () => {
      for (const timer of timers) clearInterval(timer)
      await browser?.close()
      if (program) await ended(program.process)
      await line.remove()
      rmSync(folder, { recursive: true, force: true })
    })

    test('the aircraft is drawn, the rate and the gauge are found, the hold is run and its report printed', async () => {
      await page().getByLabel('Layout nearest to yours').selectOption('nose-tank')
      await page().getByLabel('What you measure with').selectOption('moved')
      await button('Begin with it').click()
      await button('section nose-tank').waitFor()
      await page().getByRole('link', { name: 'firewall-forward-hold' }).click()
      await fill('Settle, min', '5 s')
      await fill('Hold, min', '1')
      await fill('Drop, psi', '0.5')
      await page().locator('.part-form').getByRole('button', { name: 'Save' }).click()
      await page().locator('.part-form').waitFor({ state: 'detached' })

      // 115200 and then the usual rates, until the bytes are text.
      await expect.poll(async () => (await state()).ports[0].lines, { timeout: 60_000 }).toBeGreaterThan(10)
      expect(speed).toBe(loggerBaud)

      await page().goto(`${program.url}/#/setup/channels`)
      await button('Find the gauge').click()
      await page().getByText('Now squeeze the bulb').waitFor()
      expect(await button('This is the gauge').count()).toBe(0)
      now.towardsPsi = 1.6
      // The unit is guessed from the whole squeeze.
      await page()
        .getByText(/logger\.press moved from .* to 1\.[56]/)
        .waitFor()
      await button('This is the gauge').waitFor()
      await shoot(page(), 'find-gauge-phone', true)
      expect(await button('This is the gauge').count()).toBe(1)
      await button('This is the gauge').click()
      expect(await page().getByLabel('Unit', { exact: true }).inputValue()).toBe('psi')
      expect(await page().getByLabel('Range', { exact: true }).inputValue()).toBe('0 psi to 15 psi')
      await shoot(page(), 'found-gauge-phone', true)
      expect(await violationsByDayAndNight(page())).toEqual([])
      // Nothing is in the file before it is confirmed.
      const text = async (): Promise<string> =>
        ((await (await fetch(`${program.url}/api/system`)).json()) as { text: string }).text
      expect(await text()).not.toContain('field: press')
      await page().locator('.part-form').getByRole('button', { name: 'Save' }).click()
      await expect.poll(text).toContain('field: press')
      now.towardsPsi = 0.01
      await page().waitForTimeout(2500)
      await button('Find the thermometer').click()
      await page().getByText('Now warm the thermometer').waitFor()
      now.towardsDegC = 27
      await button('This is the thermometer').click()
      expect(await page().getByLabel('Unit', { exact: true }).inputValue()).toBe('degC')
      await page().locator('.part-form').getByRole('button', { name: 'Save' }).click()
      await expect.poll(text).toContain('field: probe')
      now.towardsDegC = 20

      await page().goto(`${program.url}/#/hold/start/firewall-forward-hold`)
      await button('gauge is on firewall-forward').click()
      await button('thermometer is on firewall-forward').click()
      await button('I have read these and they are met').click()
      await page().waitForTimeout(1000)
      await button('Begin the pump-up').click()
      now.towardsPsi = 10.1
      await button('At pressure: settle').click()
      await page().waitForTimeout(6000)
      await button('Start the hold').click()
      if (await button('Start now').isVisible()) await button('Start now').click()
      await expect.poll(async () => (await state()).hold?.stage).toBe('hold')
      await page().waitForTimeout(66_000)
      await button(/End the hold and vent|vent now/i)
        .first()
        .click()
      const reason = page().getByRole('dialog').getByRole('button').last()
      if (await reason.isVisible()) await reason.click()
      now.towardsPsi = 0.01
      await expect.poll(async () => (await state()).hold?.stage).toBe('vent')
      await page().waitForTimeout(8000)
      await button('Vented: seal the record').click()
      await expect.poll(async () => (await state()).last?.result.verdict, { timeout: 30_000 }).toBe('pass')
      const { record } = (await state()).last!
      const report = await fetch(`${program.url}/api/records/${record}/report.pdf`)
      expect(
        Buffer.from(await report.arrayBuffer())
          .subarray(0, 5)
          .toString(),
      ).toBe('%PDF-')
    }, 300_000)
  },
)
