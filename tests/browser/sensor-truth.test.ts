import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { browserPath, launch, type Opened, shoot, withoutBrowser } from './browser.ts'
import { type LiveBench, startLiveBench } from './live-bench.ts'
import { SpokenPort } from './spoken-port.ts'
import { violationsByDayAndNight } from './violations-of.ts'

/** The rig alone, with its gauge, its thermometer and the barometer, and the gauge's unit as the file states it. */
const rigFile = (unit: string): string => `stillhold: 1
name: the rig alone
channels:
  - { id: p-rig, measures: gauge-pressure, section: rig, from: { measurement: logger, field: p5 }, unit: ${unit}, range: 0 psi to 15 psi }
  - { id: t-rig, measures: temperature, section: rig, from: { measurement: logger, field: t5 }, unit: degC }
  - { id: baro, measures: barometric-pressure, from: { measurement: logger, field: baro }, unit: hPa }
sections:
  - { id: rig, medium: air, volume: 0.2 L, max-pressure: 20 psi, kind: rig }
fittings:
  - { id: F22, section: rig, kind: hose-end }
holds:
  - { id: rig-10psi, sections: [rig], pressure: 10 psi, settle: 2 min, hold: 5 min, allow: { drop: 0.1 psi } }
`
const jitter = (): number => 0.01 * Math.random()

describe.skipIf(browserPath === null)(
  `a sensor never looks alive or right when it is not${withoutBrowser}`,
  () => {
    let browser: Browser
    let live: LiveBench
    let opened: Opened
    const port = new SpokenPort()
    const page = () => opened.page

    beforeAll(async () => {
      browser = await launch()
      live = await startLiveBench({ edit: () => rigFile('kPa'), port })
      opened = await live.open(browser, '#/hold/start/rig-10psi')
    })
    afterAll(async () => {
      await browser?.close()
      await live?.close()
    })

    test('columns whose header was missed are told from silence, and named on the page they become readings', async () => {
      port.line = () => `${(0.02 + jitter()).toFixed(3)},${(18.2 + jitter()).toFixed(2)},1011.8`
      await page().waitForSelector('.band.of-logger >> text=sends 3 columns without names')
      await page().goto(`${live.url}#/setup/ports`)
      await page().getByLabel('Columns in their order').fill('p5, t5, baro')
      await shoot(page(), 'port-header')
      await page().getByRole('button', { name: 'Use these names' }).click()
      await page().waitForSelector('.band.of-logger', { state: 'detached' })
      await page().waitForSelector('.ports >> text=csv: p5, t5, baro, confirmed')
    })

    test('a wrong baud rate, which brings no line end, is named, and one tap on another rate mends it', async () => {
      port.trueBaudRate = 57_600
      port.replug()
      await page().waitForSelector('.band.of-logger >> text=its baud rate is probably not 115200', {
        timeout: 30_000,
      })
      await shoot(page(), 'port-baud-rate')
      expect(await violationsByDayAndNight(page())).toEqual([])
      await page().getByRole('button', { name: '57600' }).click()
      await page().waitForSelector('.band.of-logger', { state: 'detached' })
      expect(port.baudRate).toBe(57_600)
    })

    test('a unit in the line that contradicts the file blocks the start with one sentence that says what to write', async () => {
      await live.close()
      const speaks = new SpokenPort()
      speaks.line = () =>
        `p5=${(0.02 + jitter()).toFixed(3)} psi, t5=${(18.2 + jitter()).toFixed(2)} °C, baro=1011.8 hPa`
      live = await startLiveBench({ edit: () => rigFile('kPa'), port: speaks })
      await opened.context.close()
      opened = await live.open(browser, '#/hold/start/rig-10psi', { width: 390, height: 844 })
      await page().waitForSelector(
        '#start-waits >> text=the logger sends psi, the system file says kPa. Write unit: psi.',
      )
      // The cautions may be confirmed all the same; the pump-up may not begin.
      await page().getByRole('button', { name: 'I have read these and they are met' }).click()
      expect(await page().getByRole('button', { name: 'Begin the pump-up' }).isDisabled()).toBe(true)
      expect(() =>
        live.bench.session.startHold({
          hold: 'rig-10psi',
          operator: null,
          witness: null,
          stateSheet: [],
          retests: null,
        }),
      ).toThrow('p-rig: the logger sends psi, the system file says kPa. Write unit: psi.')
      await page().locator('.sensor-list').scrollIntoViewIfNeeded()
      await shoot(page(), 'units-contradict-phone')

      live.bench.session.changeSystem(rigFile('psi'))
      await page().waitForFunction(
        () => !document.querySelector('#start-waits')?.textContent?.includes('the logger sends'),
      )
      // At rest far from zero: as an absolute gauge, or not vented.
      speaks.line = () =>
        `p5=${(14.68 + jitter()).toFixed(3)} psi, t5=${(18.2 + jitter()).toFixed(2)} °C, baro=1011.8 hPa`
      await page().waitForSelector('#start-waits >> text=before the pump-up, as an absolute gauge does')
      speaks.line = () =>
        `p5=${(4 + jitter()).toFixed(3)} psi, t5=${(18.2 + jitter()).toFixed(2)} °C, baro=1011.8 hPa`
      await page().waitForSelector('#start-waits >> text=vent the section first')
      speaks.line = () =>
        `p5=${(15.9 + jitter()).toFixed(3)} psi, t5=${(18.2 + jitter()).toFixed(2)} °C, baro=1011.8 hPa`
      await page().waitForSelector('#start-waits >> text=/p-rig reads 15.9 psi, outside its span/')
      speaks.line = () =>
        `p5=${(0.02 + jitter()).toFixed(3)} psi, t5=${(18.2 + jitter()).toFixed(2)} °C, baro=10.118 hPa`
      await page().waitForSelector('#start-waits >> text=outside any real atmosphere')
      speaks.line = () =>
        `p5=${(0.02 + jitter()).toFixed(3)} psi, t5=${(18.2 + jitter()).toFixed(2)} °C, baro=1011.8 hPa`
      await page().waitForFunction(() => document.querySelectorAll('.sensor-list .is-proven').length === 3)
    })

    test('a unit that does not exist is refused with the nearest that does: mbar for mb, not Pa', async () => {
      await page().goto(`${live.url}#/setup/file`)
      await page().waitForSelector('.editor textarea')
      await page().fill('.editor textarea', rigFile('mb'))
      await page().getByRole('button', { name: 'Check and save' }).click()
      const errors = page().locator('.file-errors')
      await errors.getByText(/the nearest known unit is .mbar/).waitFor()
      expect(await errors.textContent()).not.toMatch(/\bPa\b/)
      expect(live.bench.session.systemFile.text).toBe(rigFile('psi'))
    })

    test('a gauge that goes silent alone is crossed out after 3 s, the start names it, and its value is never shown as now', async () => {
      const speaks = new SpokenPort()
      await live.close()
      speaks.line = () => `p5=${(0.02 + jitter()).toFixed(3)},t5=${(18.2 + jitter()).toFixed(2)},baro=1011.8`
      live = await startLiveBench({ edit: () => rigFile('psi'), port: speaks })
      await page().goto(`${live.url}#/hold/start/rig-10psi`)
      await page().waitForFunction(() => document.querySelectorAll('.sensor-list .is-proven').length === 3)
      speaks.line = () => `baro=1011.8`
      await page().waitForSelector('.figure.is-old >> text=/Old: p-rig gives no reading for [34] s/', {
        timeout: 6000,
      })
      expect(await page().locator('.beside-figure .old-reading').count()).toBe(1)
      await page().waitForSelector('.sensor-list >> text=/p-rig: no reading for \\d+ s/')
      await page().waitForSelector(
        '.sensor-list >> text=/t-rig: no reading for \\d+ s. Without it the temperature is unknown/',
      )
      await page().waitForSelector('#start-waits >> text=/p-rig: no reading for/')
      await shoot(page(), 'sensor-silent-phone')
      speaks.line = () => `p5=0.02,t5=18.2,baro=1011.8`
      await page().waitForSelector('.figure.is-old', { state: 'detached' })
    })
  },
)
