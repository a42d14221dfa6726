import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { type RunningBench, startBench } from '#dashboard/server/start-bench.ts'
import { firstSystemFile, layouts } from '#ingest/system-file/layouts.ts'
import { browserPath, launch, type Opened, open, shoot, withoutBrowser } from './browser.ts'
import { routePage } from './route-page.ts'
import { violationsByDayAndNight } from './violations-of.ts'

const phone = { width: 390, height: 844 }
const holdS = 66

describe.skipIf(browserPath === null)(`a hold with a dial gauge and a watch${withoutBrowser}`, () => {
  let browser: Browser
  let opened: Opened
  let bench: RunningBench
  let folder: string
  let taps = 0
  const page = () => opened.page
  const state = () => bench.session.state()
  const tap = async (name: string | RegExp): Promise<void> => {
    taps++
    await page().getByRole('button', { name }).first().click()
  }
  /** A reading: its keys and its Enter are not counted. */
  const read = async (channel: string, value: string): Promise<void> => {
    const form = page().getByRole('form', { name: 'Reading by eye' })
    await form.getByText(channel, { exact: true }).click()
    for (const key of value) await form.getByRole('button', { name: key, exact: true }).click()
    await form.getByRole('button', { name: new RegExp(`^Enter ${channel} ${value}`) }).click()
    await expect.poll(() => form.getByRole('textbox').inputValue()).toBe('')
  }

  beforeAll(async () => {
    browser = await launch()
    folder = mkdtempSync(join(tmpdir(), 'stillhold-typed-'))
    const systemPath = join(folder, 'aircraft.yaml')
    // The file that serve writes where none is there, with a hold as short as a test can wait.
    const text = firstSystemFile(layouts[0], 'my aircraft', 'dial')
      .replaceAll('settle: 3 min', 'settle: 2 s')
      .replaceAll('hold: 30 min, allow: { drop: 0.5 psi }', `hold: ${holdS} s, allow: { drop: 0.5 psi }`)
    writeFileSync(systemPath, text)
    bench = await startBench({
      dataFolder: join(folder, 'data'),
      systemPath,
      ports: [],
      listen: { host: '127.0.0.1', port: 0 },
      version: '0.0.0-test',
    })
    opened = await open(browser, 'about:blank', phone)
    await routePage(opened.page)
    await opened.page.goto(`http://127.0.0.1:${bench.server.port}/`)
  })
  afterAll(async () => {
    await browser?.close()
    await bench?.stop()
    rmSync(folder, { recursive: true, force: true })
  })

  test('gets from the first page to a sealed verdict in at most 25 taps beside the readings, and it says typed', async () => {
    taps += 2
    await page().getByRole('link', { name: 'Start a hold' }).click()
    await page()
      .getByRole('link', { name: /feed-lines-hold/ })
      .click()
    await tap('gauge is on feed-lines')
    await tap('thermometer is on feed-lines')
    await read('thermometer', '20')
    await read('gauge', '0')
    await shoot(page(), 'typed-start', true)
    expect(await violationsByDayAndNight(page())).toEqual([])
    await tap('I have read these and they are met')
    await page().waitForTimeout(1000)
    await tap('Begin the pump-up')
    await read('gauge', '10')
    await tap('At pressure: settle')
    await page().waitForTimeout(2500)
    await tap('Start the hold')
    if (await page().getByRole('button', { name: 'Start now' }).isVisible()) await tap('Start now')
    await expect.poll(() => state().hold?.stage).toBe('hold')
    for (let reading = 0; reading < 12; reading++) {
      await read('gauge', '10')
      if (reading === 6) {
        await shoot(page(), 'typed-hold', true)
        expect(state().hold?.verdict).not.toBe('void')
      }
      if (reading < 11) await page().waitForTimeout((holdS * 1000) / 11 - 900)
    }
    await tap(/End the hold and vent|vent now/)
    const reason = page().getByRole('dialog').getByRole('button').last()
    if (await reason.isVisible()) {
      taps++
      await reason.click()
    }
    await expect.poll(() => state().hold?.stage).toBe('vent')
    await read('gauge', '0')
    await page().waitForTimeout(1200)
    await tap('Vented: seal the record')
    await expect.poll(() => bench.archive.list({ kind: 'hold' }).length, { timeout: 30_000 }).toBe(1)
    const { result, origins } = bench.archive.get('1')
    expect({ taps, verdict: (result as { verdict: string }).verdict }).toMatchObject({ verdict: 'pass' })
    expect(taps).toBeLessThanOrEqual(25)
    expect(origins?.map(({ channel, kind }) => [channel, kind])).toEqual([
      ['thermometer', 'typed'],
      ['gauge', 'typed'],
    ])
    expect(readFileSync(bench.archive.recordingPath('1')!, 'utf8')).toMatch(
      /mark,kind=place,from=operator,id=gauge section="feed-lines"/,
    )
  }, 240_000)
})
