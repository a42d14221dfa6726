import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { LiveState } from '#dashboard/api.ts'
import { browserPath, launch, shoot, withoutBrowser } from './browser.ts'
import { routePage } from './route-page.ts'
import { ended, serveProgram } from './serve-program.ts'
import { hasSocat, WiredLogger } from './wired-logger.ts'

const withoutSocat = hasSocat ? '' : ' (skipped: no socat)'

/** In sight: within the window, wherever the page is scrolled to. */
const isInSight = (page: Page, selector: string): Promise<boolean> =>
  page.locator(selector).evaluate((one) => {
    const { top, bottom } = one.getBoundingClientRect()
    return top >= 0 && bottom <= innerHeight
  })

describe.skipIf(browserPath === null || !hasSocat)(
  `a hold that loses its logger, its server and its stream${withoutBrowser}${withoutSocat}`,
  () => {
    let browser: Browser
    const folder = mkdtempSync(join(tmpdir(), 'stillhold-unplug-'))
    beforeAll(async () => {
      browser = await launch()
    })
    afterAll(async () => {
      await browser?.close()
      rmSync(folder, { recursive: true, force: true })
    })

    test('each loss is named in sight, each return heals by itself, the hold ends void, nothing recorded is lost', {
      timeout: 600_000,
    }, async () => {
      const system = readFileSync(
        new URL('../../recordings/floatplane.yaml', import.meta.url),
        'utf8',
      ).replace('settle: 2 min\n    hold: 5 min', 'settle: 12 s\n    hold: 20 min')
      const systemPath = join(folder, 'aircraft.yaml')
      writeFileSync(systemPath, system)
      const logger = new WiredLogger(folder, system)
      await logger.start()
      const data = join(folder, 'data')
      const serve = (listen: string) =>
        serveProgram('--port', logger.device, '--system', systemPath, '--data', data, '--listen', listen)
      let program = await serve('127.0.0.1:0')
      const state = async (): Promise<LiveState> =>
        (await (await fetch(`${program.url}/api/state`)).json()) as LiveState
      try {
        const context = await browser.newContext({
          viewport: { width: 1366, height: 768 },
          reducedMotion: 'reduce',
        })
        const page = await context.newPage()
        const complaints: string[] = []
        page.on('pageerror', (error) => complaints.push(error.message))
        await routePage(page)

        // The sheet is read from its top to its end; the hold that begins there is seen from its top again.
        await page.goto(`${program.url}/#/hold/start/rig-10psi`)
        await page.waitForSelector('.sensor-list .is-proven')
        await page.evaluate(() => scrollTo(0, document.body.scrollHeight))
        await page.getByRole('button', { name: 'I have read these and they are met' }).click()
        // A tap that follows at once would belong to the one before.
        await page.waitForTimeout(800)
        await page.getByRole('button', { name: 'Begin the pump-up' }).click()
        await page.waitForSelector('.rail')
        expect(await page.evaluate(() => scrollY)).toBe(0)
        logger.bench.command('pump-up', 'rig-10psi')
        await page.waitForFunction(() => Number(document.querySelector('.figure-number')?.textContent) > 10.2)
        await page.getByRole('button', { name: 'At pressure: settle' }).click()
        // It does not start while the pressure runs unevenly: the operator starts it, and is asked.
        // A tap that follows at once would belong to the one before.
        await page.waitForTimeout(1100)
        await page.getByRole('button', { name: 'Start the hold' }).click()
        await page.getByRole('button', { name: 'Start now' }).click()
        logger.bench.command('settle', 'rig-10psi')
        await page.waitForSelector('.decision-panel')
        logger.bench.command('hold', 'rig-10psi')
        await page.waitForSelector('.estimate-line', { timeout: 120_000 })
        // What is wrong must be seen from where people look, not only from the top of the page.
        await page.evaluate(() => scrollTo(0, document.body.scrollHeight))

        await logger.pullOut()
        await page.waitForSelector('.band.of-logger >> text=Logger unplugged.')
        expect(await isInSight(page, '.band.of-logger')).toBe(true)
        expect(await page.textContent('.old-word')).toBe('Old: the logger is silent')
        expect(await page.textContent('.headline')).toMatch(/^Last known: /)
        // Long enough for a silence of a fifth of the hold, which voids it, on a slow machine too.
        await page.waitForTimeout(20_000)
        await shoot(page, 'unplugged-logger')
        await logger.plugIn()
        await page.waitForSelector('.band.of-logger', { state: 'detached', timeout: 60_000 })
        await page.waitForSelector('.old-word', { state: 'detached', timeout: 10_000 })
        expect((await state()).marks.map((one) => one.text).join()).toMatch(
          /logger unplugged.*nothing for \d/,
        )

        const [recording] = readdirSync(join(data, 'session')).filter((name) => name.endsWith('.lp'))
        await ended(program.process, 'SIGKILL')
        const kept = readFileSync(join(data, 'session', recording), 'utf8')
          .split('\n')
          .slice(0, -1)
        await page.waitForSelector('.band.of-server', { timeout: 60_000 })
        expect(await page.textContent('.band.of-server')).toContain('Server lost')
        expect(await isInSight(page, '.band.of-server')).toBe(true)
        expect(await page.textContent('.old-word')).toMatch(/^Old: server lost \d+ s ago$/)
        await shoot(page, 'unplugged-server')
        program = await serve(program.url.replace('http://', ''))
        await page.waitForSelector('.band.of-server', { state: 'detached', timeout: 60_000 })
        await page.waitForSelector('.old-word', { state: 'detached', timeout: 60_000 })
        expect((await state()).hold?.stage).toBe('hold')
        // Again a look at the hold, out of the recording that goes on.
        await page.waitForSelector('.estimate-line', { timeout: 120_000 })

        program.process.kill('SIGSTOP')
        await page.waitForSelector('.band.of-stream', { timeout: 30_000 })
        expect(await page.textContent('.band.of-stream')).toContain('Stream stalled')
        expect(await isInSight(page, '.band.of-stream')).toBe(true)
        expect(await page.locator('.band.of-server').count()).toBe(0)
        expect(await page.textContent('.old-word')).toMatch(/^Old: no data for \d+ s$/)
        await shoot(page, 'unplugged-stream')
        program.process.kill('SIGCONT')
        await page.waitForSelector('.band.of-stream', { state: 'detached', timeout: 30_000 })

        await page.getByRole('button', { name: 'End the hold and vent' }).click()
        // It is void whatever follows: nobody is asked to go on with it.
        await page.waitForSelector('.rail li.is-now:has-text("Vent")')
        logger.bench.command('vent', 'rig-10psi')
        await page.waitForSelector('.last-verdict', { timeout: 120_000 })
        expect(await page.evaluate(() => scrollY)).toBe(0)
        await shoot(page, 'unplugged-verdict')
        const { last } = await state()
        expect(last?.result.verdict).toBe('void')
        expect(await page.textContent('.last-verdict')).toMatch(/gave no readings for \d+ (?:s|min)/)
        const sealed = await (await fetch(`${program.url}/api/records/${last!.record}/recording.lp`)).text()
        expect(sealed.split('\n').slice(0, kept.length)).toEqual(kept)
        expect(complaints).toEqual([])
        await context.close()
      } finally {
        program.process.kill('SIGCONT')
        await ended(program.process)
        await logger.stop()
      }
    })
  },
)
