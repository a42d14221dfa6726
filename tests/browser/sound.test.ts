import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { browserPath, launch, open, shoot, withoutBrowser } from './browser.ts'
import { pageFolder } from './build-page.ts'
import { type StandIn, startStandIn } from './stand-in.ts'
import { allowanceDropPa, stages } from './stand-in-curve.ts'
import { violationsByDayAndNight } from './violations-of.ts'

interface Ears {
  /** Frequency of each tone that a real AudioContext started, [Hz]. */
  readonly tones: number[]
  readonly pulses: unknown[]
  readonly spoken: string[]
}
const ears = (page: Page): Promise<Ears> => page.evaluate(() => (window as unknown as { ears: Ears }).ears)

/** Listens to every oscillator, vibration and utterance of the page; the browser still makes them. */
const listen = (page: Page): Promise<unknown> =>
  page.addInitScript(() => {
    const heard = { tones: [] as number[], pulses: [] as unknown[], spoken: [] as string[] }
    Object.assign(window, { ears: heard })
    const { start } = OscillatorNode.prototype
    OscillatorNode.prototype.start = function (when) {
      if (this.context.state === 'running') heard.tones.push(Math.round(this.frequency.value))
      return start.call(this, when)
    }
    const vibrate = navigator.vibrate?.bind(navigator)
    navigator.vibrate = (pattern) => {
      heard.pulses.push(pattern)
      return vibrate?.(pattern as VibratePattern) ?? true
    }
    const speak = speechSynthesis.speak.bind(speechSynthesis)
    speechSynthesis.speak = (utterance) => {
      heard.spoken.push(utterance.text)
      speak(utterance)
    }
  })

const phone = { width: 390, height: 844 }

describe.skipIf(browserPath === null)(`what is heard${withoutBrowser}`, () => {
  let browser: Browser
  let bench: StandIn
  beforeAll(async () => {
    browser = await launch()
    bench = await startStandIn({ folder: pageFolder })
  })
  afterAll(async () => {
    await browser?.close()
    await bench?.close()
  })

  const openAt = async (benchS: number) => {
    bench.at(benchS)
    bench.alarms([])
    const opened = await open(browser, 'about:blank', phone)
    await listen(opened.page)
    await opened.page.goto(bench.url)
    await opened.page.waitForSelector('.figure-number:has-text(".")')
    return opened
  }

  test('sound is on after the first touch: over-pressure sounds again and again until it is answered', async () => {
    const { page, context } = await openAt(stages.holdS + 30)
    await page.waitForSelector('.call.is-mute')
    expect((await ears(page)).tones).toEqual([])
    await page.click('h1')
    await page.waitForSelector('.call.is-mute', { state: 'detached' })
    bench.alarms([
      { code: 'over-pressure', message: 'left-feed is over its limit: stop pumping and vent now.' },
    ])
    await page.waitForSelector('.call.is-stop >> text=Over pressure')
    const stops = async () => (await ears(page)).tones.filter((hz) => hz === 880).length
    // Three tones of 880 Hz in each round of the call.
    await expect.poll(stops, { timeout: 15_000 }).toBeGreaterThanOrEqual(6)
    await shoot(page, 'call-over-pressure')
    expect(await violationsByDayAndNight(page)).toEqual([])
    await page.click('text=Heard')
    const before = await stops()
    await page.waitForTimeout(5000)
    expect(await stops()).toBe(before)
    expect((await ears(page)).pulses.length).toBeGreaterThanOrEqual(2)
    await context.close()
  })

  test('the test pressure and the decision call by a tune of their own', async () => {
    const { page, context } = await openAt(stages.pumpUpS + 5)
    await page.click('h1')
    bench.at(stages.settleS - 4)
    // 988 Hz belongs to the test pressure alone, 784 Hz after 523 and 659 to a pass.
    await expect.poll(async () => (await ears(page)).tones, { timeout: 10_000 }).toContain(988)
    bench.at(stages.holdS + 250)
    await page.waitForSelector('.call.is-pass')
    await expect
      .poll(async () => (await ears(page)).tones.slice(-3), { timeout: 10_000 })
      .toEqual([523, 659, 784])
    await page.click('text=Heard')
    await page.waitForSelector('.call', { state: 'detached' })
    await context.close()
  })

  test('a settle that is done, pressure that is lost and a time that is over call by tunes of their own', async () => {
    const { page, context } = await openAt(stages.settleS + 5)
    await page.click('h1')
    const hears = (tones: readonly number[]) =>
      expect
        .poll(async () => (await ears(page)).tones.slice(-tones.length), { timeout: 10_000 })
        .toEqual(tones)
    bench.at(stages.holdS - 8)
    await page.waitForSelector('.call >> text=Settled. Hands off, the hold starts.')
    await hears([784, 587])
    bench.at(stages.holdS + 60)
    bench.alarms([{ code: 'pressure-fell', message: 'left-feed went from 10 psi to 0 psi at once.' }])
    await page.waitForSelector('.call >> text=Pressure lost.')
    await hears([880, 698, 554])
    await context.close()
    const late = await startStandIn({ folder: pageFolder, lengthS: 900, dropPa: allowanceDropPa })
    late.at(stages.holdS + stages.lengthS + 2)
    const over = await open(browser, 'about:blank', phone)
    await listen(over.page)
    await over.page.goto(late.url)
    await over.page.waitForSelector('.call >> text=The hold time is over.')
    await over.page.click('h1')
    await expect
      .poll(async () => (await ears(over.page)).tones.slice(-4), { timeout: 10_000 })
      .toEqual([698, 698, 698, 698])
    await over.context.close()
    await late.close()
  })

  test('a bench that falls silent calls, and says so in words where that is asked for', async () => {
    const { page, context } = await openAt(stages.holdS + 60)
    await page.evaluate(() => localStorage.setItem('stillhold.spoken-words', 'on'))
    await page.reload()
    await page.waitForSelector('.figure-number:has-text(".")')
    await page.click('h1')
    bench.alarms([{ code: 'logger-unplugged', message: '/dev/bench is gone.' }])
    await page.waitForSelector('.call.is-sensor-lost')
    await expect.poll(async () => (await ears(page)).spoken, { timeout: 10_000 }).toContain('Sensor lost.')
    await expect
      .poll(async () => (await ears(page)).tones.slice(-4), { timeout: 10_000 })
      .toEqual([330, 330, 330, 330])
    await context.close()
  })

  test('the screen is kept on by the wake lock, and over plain HTTP of a network by a silent video', async () => {
    const { page, context } = await openAt(stages.holdS + 60)
    const awake = () => page.evaluate(() => document.documentElement.dataset['awakeBy'] ?? null)
    await page.click('h1')
    await expect.poll(awake, { timeout: 10_000 }).toMatch(/^(wake-lock|video)$/)
    await context.close()
    const plain = await open(browser, 'about:blank', phone)
    await plain.page.addInitScript(() => {
      // A page from the network over HTTP has no wake lock.
      Reflect.deleteProperty(Navigator.prototype, 'wakeLock')
    })
    await plain.page.goto(bench.url)
    await plain.page.waitForSelector('.figure-number:has-text(".")')
    await plain.page.click('h1')
    await expect
      .poll(() => plain.page.evaluate(() => document.documentElement.dataset['awakeBy']), { timeout: 10_000 })
      .toBe('video')
    await plain.context.close()
  })
})
