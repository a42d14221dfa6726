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

const phone = { width: 360, height: 780 }

describe.skipIf(browserPath === null)(`an aircraft that is drawn${withoutBrowser}`, () => {
  let browser: Browser
  let opened: Opened
  let bench: RunningBench
  const folder = mkdtempSync(join(tmpdir(), 'stillhold-draw-'))
  const path = join(folder, 'aircraft.yaml')
  const page = () => opened.page
  const system = () => bench.session.systemFile.system!
  const button = (name: string | RegExp) => page().getByRole('button', { name })
  const fill = (label: string, text: string) => page().getByLabel(label, { exact: true }).fill(text)
  const form = () => page().locator('.part-form')
  const closed = () => form().waitFor({ state: 'detached' })

  beforeAll(async () => {
    browser = await launch()
    writeFileSync(path, firstSystemFile(layouts[0], 'my aircraft', 'dial'))
    bench = await startBench({
      dataFolder: join(folder, 'data'),
      systemPath: path,
      ports: [],
      listen: { host: '127.0.0.1', port: 0 },
      version: '0.0.0-test',
    })
    opened = await open(browser, 'about:blank', phone)
    await routePage(opened.page)
    await opened.page.goto(`http://127.0.0.1:${bench.server.port}/#/system/draw`)
  })
  afterAll(async () => {
    await browser?.close()
    await bench?.stop()
    rmSync(folder, { recursive: true, force: true })
  })

  test('begins from a layout, and the drawing is the file at once', async () => {
    await page().getByLabel('Layout nearest to yours').selectOption('nose-tank')
    await page().getByLabel('What you measure with').selectOption('moved')
    await shoot(page(), 'draw-begin-phone', true)
    expect(await violationsByDayAndNight(page())).toEqual([])
    await button('Begin with it').click()
    await button('section nose-tank').waitFor()
    expect(system().sections.map(({ id }) => id)).toEqual(['nose-tank', 'firewall-forward'])
    expect(readFileSync(path, 'utf8')).toBe(bench.session.systemFile.text)
  }, 60_000)

  test('a section from hose size and length, a valve and a fitting grow in the drawing; the gauge that is moved goes there too', async () => {
    await page().getByRole('link', { name: '+ section' }).click()
    await fill('Id', 'gascolator-line')
    await form().getByText('Volume from hose size and length').click()
    await page().getByLabel(/^Size/).selectOption('hose -6')
    await fill('Length, m', '1.5')
    await button('Use this volume').click()
    // π/4 · (7.9 mm)² · 1.5 m = 0.0735 L
    expect(await page().getByLabel('Volume, L').inputValue()).toBe('0.0735 L ± 10 %')
    await fill('Max pressure, psi', '15')
    await shoot(page(), 'draw-section-phone', true)
    expect(await violationsByDayAndNight(page())).toEqual([])
    await button('Add the section').click()
    await button('section gascolator-line').waitFor()
    const added = system().sections.at(-1)!
    expect(added.volumeM3).toBeCloseTo(0.0735e-3, 9)
    expect(added.volumeToleranceM3 / added.volumeM3).toBeCloseTo(0.1, 9)
    expect(system().channels.map(({ id }) => id)).toContain('gauge@gascolator-line')

    await page().getByRole('link', { name: '+ valve' }).click()
    await fill('Name', 'gascolator shut-off')
    await page().getByRole('checkbox', { name: 'firewall-forward' }).check()
    await page().getByRole('checkbox', { name: 'gascolator-line' }).check()
    await button('Add the valve').click()
    await button('valve V3 gascolator shut-off').waitFor()
    await page().getByRole('link', { name: '+ fitting' }).click()
    await fill('Id', 'F20')
    await page().getByLabel('Section', { exact: true }).selectOption('gascolator-line')
    await fill('Torque, N·m', '11 N·m to 14 N·m')
    await button('Add the fitting').click()
    await button(/^F20/).waitFor()
    expect(system().fittings.find(({ id }) => id === 'F20')?.torqueNm).toEqual([11, 14])

    await page().getByRole('link', { name: '+ hold' }).click()
    await fill('Id', 'gascolator-hold')
    await page().getByRole('checkbox', { name: 'gascolator-line' }).check()
    expect(await page().getByRole('checkbox', { name: /^V3/ }).isChecked()).toBe(true)
    await fill('Pressure, psi', '20')
    await fill('Drop, psi', '0.1')
    await button('Add the hold').click()
    // The sentence of the file's own reader.
    await form()
      .getByText('hold gascolator-hold: pressure: is above the max-pressure of section "gascolator-line"')
      .waitFor()
    expect(system().holds).toHaveLength(2)
    await shoot(page(), 'draw-refused-phone', true)
    await fill('Pressure, psi', '10')
    await button('Add the hold').click()
    await closed()
    expect(system().holds.at(-1)).toMatchObject({
      id: 'gascolator-hold',
      shut: ['V3'],
      settleS: 120,
      holdS: 600,
    })
  }, 60_000)

  test('a part is renamed wherever it is named, its other keys and every comment stay, and Undo takes it back', async () => {
    const before = readFileSync(path, 'utf8')
    await button('section nose-tank').focus()
    await page().keyboard.press('Enter')
    await fill('Id', 'main-tank')
    await button('Save').click()
    await button('section main-tank').waitFor()
    const after = readFileSync(path, 'utf8')
    expect(after.split('\n').filter((line) => !line.includes('main-tank'))).toEqual(
      before.split('\n').filter((line) => !/(?<!\w)nose-tank(?!-hold)/.test(line)),
    )
    expect(after).toContain('volume: 45 L ± 5 %')
    await button('Undo').click()
    await button('section nose-tank').waitFor()
    expect(readFileSync(path, 'utf8')).toBe(before)
  }, 60_000)

  test('a part is taken out with what belongs to it; the editor of the file shows the same', async () => {
    // On its name: in its middle stands a fitting.
    await button('section gascolator-line').click({ position: { x: 60, y: 14 } })
    await page().getByText('This also removes 1 fitting, 1 hold and what is on it alone.').waitFor()
    await button('Remove it').click()
    await button('section gascolator-line').waitFor({ state: 'detached' })
    expect(system().fittings.some(({ id }) => id === 'F20')).toBe(false)
    await page().getByRole('link', { name: 'The file' }).click()
    const editor = page().getByRole('textbox', { name: 'System file' })
    await expect.poll(() => editor.inputValue()).toBe(bench.session.systemFile.text)
    await editor.fill(`${await editor.inputValue()}# half a thought`)
    await page().getByRole('link', { name: 'Draw the system instead' }).click()
    await button('valve V1 fuel shut-off').click()
    await fill('Name', 'main shut-off')
    await button('Save').click()
    await form().getByText('has typed changes that are not saved').waitFor()
    expect(system().valves[0].name).toBe('fuel shut-off')
    await page().setViewportSize({ width: 1366, height: 768 })
    await shoot(page(), 'draw-valve-laptop')
    expect(await violationsByDayAndNight(page())).toEqual([])
    expect(opened.complaints).toEqual([])
  }, 60_000)
})
