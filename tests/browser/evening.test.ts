import { copyFileSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import type { Browser, Locator, Page } from 'playwright-core'
import { afterAll, beforeAll, expect, test, vi } from 'vitest'
import { verify } from '#dashboard/archive/verify.ts'
import type { RunningBench } from '#dashboard/server/start-bench.ts'
import { benchFolder, openBench } from '#tests/dashboard/server/open-bench.ts'
import { browserPath, launch, withoutBrowser } from './browser.ts'
import { routePage } from './route-page.ts'

const recordings = new URL('../../recordings/wet/', import.meta.url)
const place = benchFolder()
let browser: Browser
let bench: RunningBench
/** The bench's clock, in minutes since the evening began: it runs in this process. */
let minute = 0
const passes = (minutes: number): void => {
  minute += minutes
  vi.setSystemTime(Date.parse('2026-05-09T18:00:00Z') + minute * 60_000)
}

beforeAll(async () => {
  copyFileSync(new URL('floatplane-wet.yaml', recordings), place.systemPath)
  vi.useFakeTimers({ toFake: ['Date'] })
  passes(0)
  if (browserPath === null) return
  bench = await openBench(place)
  browser = await launch()
})
afterAll(async () => {
  await browser?.close()
  await bench?.stop()
  vi.useRealTimers()
  place.remove()
})

const aboveTheFuel = ['F01', 'F02']

/** One stage on the page: its sheet opened, every step ticked, begun, soaked, each joint inspected, judged and locked. */
async function stage(
  page: Page,
  name: string,
  sections: readonly string[],
  soak: {
    readonly minutes: number
    readonly found?: Readonly<Record<string, string>>
    readonly looks?: boolean
  },
): Promise<string> {
  const { minutes, found = {}, looks = true } = soak
  await page.getByText('Open a sheet').click()
  await page.getByLabel(/^Stage/).selectOption(name)
  for (const box of await page.locator('fieldset:has-text("Fuel is in") input').all()) await box.uncheck()
  for (const id of sections) await page.getByLabel(id, { exact: true }).check()
  await page.getByRole('button', { name: 'Open the sheet' }).click()
  const sheet = page.getByRole('article')
  await sheet.waitFor()
  const entered = async (act: () => Promise<unknown>) => {
    const answered = page.waitForResponse((response) => response.url().includes('/entry'))
    await act()
    await answered
  }
  const step = (n: number): Locator => sheet.locator('ul[aria-label=Steps] > li').nth(n)
  const count = await sheet.locator('ul[aria-label=Steps] > li').count()
  for (let n = 0; n < count; n++) {
    const isHold = (await step(n).textContent())?.includes('liquid hold')
    if (!isHold) await entered(() => step(n).locator('label.check > input').click())
    else await reason(entered, step(n), `step ${n + 1}`, 'no gauge between pump and shut-off')
  }
  if (looks) {
    await sheet.getByLabel('Its temperature, such as 15 degC').fill('14 degC')
    await entered(() => sheet.getByRole('button', { name: 'Save the conditions' }).click())
  }
  await entered(() => sheet.getByRole('button', { name: /begin now/i }).click())
  passes(minutes)
  if (looks)
    for (const { id } of jointsOf(sections)) {
      if (aboveTheFuel.includes(id) && found[id] === undefined) {
        await reason(entered, sheet.locator('.wet-joints > li', { hasText: id }), id, 'above the fuel')
        continue
      }
      await sheet.getByRole('button', { name: `Look at ${id}` }).click()
      const paper = sheet.getByLabel('paper', { exact: false }).first()
      if (!(await paper.isChecked())) await paper.check()
      await sheet.getByLabel(`Finding at ${id}`).selectOption(found[id] ?? 'dry')
      await entered(() => sheet.getByRole('button', { name: `Record ${id}` }).click())
    }
  return judged(page)
}

async function reason(
  entered: (act: () => Promise<unknown>) => Promise<void>,
  of: Locator,
  what: string,
  why: string,
): Promise<void> {
  await of.getByText(`Omit ${what}`, { exact: true }).click()
  await of.getByLabel(`Reason to omit ${what}`).fill(why)
  await entered(() => of.getByRole('button', { name: 'Save the reason' }).click())
}

const jointsOf = (sections: readonly string[]) =>
  bench.session.systemFile.system!.fittings.filter(({ section }) => sections.includes(section))

/** Judged, then locked; the verdicts of the records that it became, in one text. */
async function judged(page: Page): Promise<string> {
  const before = bench.archive.list({}).length
  await page.getByRole('button', { name: 'Judge', exact: true }).click()
  await page.waitForSelector('section[aria-label=Result]')
  await page.getByLabel('Initials or name').fill('ab')
  await page.getByRole('button', { name: 'Sign and lock into the archive' }).click()
  await page.waitForSelector('section[aria-label=Result] a')
  const made = bench.archive.list({}).length - before
  return bench.archive
    .list({})
    .slice(0, made)
    .map(({ id }) => (bench.archive.get(id).result as { verdict: string }).verdict)
    .join(' ')
}

test.skipIf(browserPath === null)(
  `an evening through the page, to a dossier that verifies: a few liters in, pump on, two weeps, worked on, pressed again, filled, drained, calibrated${withoutBrowser}`,
  async () => {
    const page = await browser.newPage({ viewport: { width: 1280, height: 900 } })
    await routePage(page)
    const to = async (part: string) => {
      await page.goto(`${bench.server.url}/#/wet/${part}`)
      await page.reload()
      await page.waitForSelector('h2')
      if (part === 'stages') await page.getByLabel('Who makes the entries').fill('ab')
    }
    const at = async (...words: Parameters<typeof stage> extends [Page, ...infer Rest] ? Rest : never) => {
      await to('stages')
      return stage(page, ...words)
    }
    const tank = ['left-tank']
    const both = ['left-tank', 'feed-lines']
    expect(await at('before-fuel', tank, { minutes: 1, looks: false })).toBe('pass')
    expect(await at('first-fill-shut', tank, { minutes: 20 })).toBe('pass')
    expect(await at('opened', both, { minutes: 20 })).toBe('pass')
    expect(await at('pump-on', both, { minutes: 15, found: { F12: 'seep', F16: 'drip' } })).toBe('fail')

    await to('torque')
    await page.getByRole('button', { name: 'Add a line' }).click()
    for (const [line, entries] of Object.entries({
      0: ['F12', 'remake', '112 in·lb ± 4 %', '', '', ''],
      1: ['F16', 'reseal', '20 N·m ± 4 %', '18 N·m to 24 N·m', 'paste that does not cure', '0 h'],
    })) {
      const form = page.getByRole('group', { name: `Line ${Number(line) + 1}` })
      const [fitting, action, torque, range, sealant, cure] = entries
      await form.getByLabel('Fitting').selectOption(fitting)
      await form.getByLabel('Work').selectOption(action)
      await form.getByLabel(/^Torque as/).fill(torque)
      await form.getByLabel('Threads').selectOption('lubricated')
      await form.getByLabel('Maker’s range').fill(range)
      if (range !== '') await form.getByLabel('Source of that range').fill('maker’s sheet')
      await form.getByLabel('Sealant').fill(sealant)
      await form.getByLabel('Its cure time').fill(cure)
      await form.getByLabel('Torque wrench').fill('wrench 2')
      await form.getByLabel('Calibrated on').fill('2026-03-02')
      await form.getByLabel('Done by').fill('ab')
      await form.getByLabel('When').fill('2026-05-09T18:50')
      await form.getByLabel('A witness mark').selectOption('yes')
    }
    expect(await judged(page)).toBe('pass pass')
    passes(10)
    expect(await at('pump-on', both, { minutes: 15 })).toBe('pass')
    const night = { F01: 'dry', F02: 'seep' }
    expect(await at('brim-full-soak', tank, { minutes: 720, found: night })).toBe('fail')
    expect(await at('defuel', tank, { minutes: 1, looks: false })).toBe('pass')

    await to('level')
    const buffer = readFileSync(new URL('left-sender.lp', recordings))
    await page
      .getByLabel('Recordings with fill marks')
      .setInputFiles([{ name: 'left-sender.lp', mimeType: 'text/plain', buffer }])
    expect(await judged(page)).toBe('pass')

    const pdf = await page.request.get(`${bench.server.url}/api/dossier.pdf`)
    const file = join(place.folder, 'dossier.pdf')
    writeFileSync(file, await pdf.body())
    const report = await verify(file, { programVersion: '0.0.0-test' })
    expect(report.records.map(({ recomputed }) => recomputed).join(' ')).toBe(
      'pass pass pass fail pass pass pass fail pass pass',
    )
  },
  240_000,
)
