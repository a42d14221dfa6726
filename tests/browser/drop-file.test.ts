import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { type RunningBench, startBench } from '#dashboard/server/start-bench.ts'
import { browserPath, launch, type Opened, open, shoot, withoutBrowser } from './browser.ts'
import { routePage } from './route-page.ts'
import { violationsByDayAndNight } from './violations-of.ts'

describe.skipIf(browserPath === null)(`a file dropped on the page${withoutBrowser}`, () => {
  let browser: Browser
  let opened: Opened
  let bench: RunningBench
  const folder = mkdtempSync(join(tmpdir(), 'stillhold-drop-'))
  const page = () => opened.page
  const drop = (name: string, bytes: Buffer): Promise<void> =>
    page().evaluate(
      ([name, base64]) => {
        const data = new DataTransfer()
        const bytes = Uint8Array.from(atob(base64), (one) => one.charCodeAt(0))
        data.items.add(new File([bytes], name, { lastModified: 1_767_225_600_000 }))
        dispatchEvent(new DragEvent('drop', { dataTransfer: data, cancelable: true }))
      },
      [name, bytes.toString('base64')],
    )
  /** Of the feed lines: 10 psi that stay, one row in ten seconds, marked by a column. */
  const sheet = (): string => {
    const rows = Array.from({ length: 100 }, (_, i) => {
      const stage = i < 2 ? '' : i < 5 ? 'pump-up' : i < 23 ? 'settle' : i < 85 ? 'hold' : 'vent'
      const psi = i < 3 || i > 86 ? 0.02 : 10 + 0.002 * ((i * 7) % 3)
      const at = new Date(Date.UTC(2026, 0, 5, 9) + i * 10_000).toISOString()
      return `${at};${psi.toFixed(3).replace('.', ',')};${(20 + 0.01 * (i % 2)).toFixed(2).replace('.', ',')};${stage}`
    })
    return `time;p3 [psi];t3 [°C];stage\n${rows.join('\n')}\n`
  }

  beforeAll(async () => {
    browser = await launch()
    const systemPath = join(folder, 'aircraft.yaml')
    writeFileSync(systemPath, readFileSync(new URL('../../recordings/floatplane.yaml', import.meta.url)))
    bench = await startBench({
      dataFolder: join(folder, 'data'),
      systemPath,
      ports: [],
      listen: { host: '127.0.0.1', port: 0 },
      version: '0.0.0-test',
    })
    opened = await open(browser, 'about:blank', { width: 390, height: 844 })
    await routePage(opened.page)
    await opened.page.goto(`http://127.0.0.1:${bench.server.port}/#/records`)
    await opened.page.getByText('Import a file from another logger').waitFor()
  })
  afterAll(async () => {
    await browser?.close()
    await bench?.stop()
    rmSync(folder, { recursive: true, force: true })
  })

  test('is shown as a table before it is taken, and then sealed as imported', async () => {
    await drop('monday.csv', Buffer.from(sheet()))
    await page().getByText('decimal comma').waitFor()
    await page().getByRole('cell', { name: 'channel p-lines, psi' }).waitFor()
    expect(bench.archive.list({ kind: 'hold' })).toEqual([])
    await page().getByLabel('Hold it belongs to').selectOption('feed-lines-10psi')
    await page().getByText('feed-lines-10psi:').waitFor()
    await page().getByLabel('Operator of the hold').fill('A. B.')
    await shoot(page(), 'drop-understood-phone', true)
    expect(await violationsByDayAndNight(page())).toEqual([])
    await page().getByRole('button', { name: 'Import it into the archive' }).click()
    await expect.poll(() => bench.archive.list({ kind: 'hold' }).length).toBe(1)
    const { operator, origins } = bench.archive.get('1')
    expect(operator).toBe('A. B.')
    expect(origins?.map(({ kind, name }) => [kind, name])).toContainEqual([
      'import',
      'monday.csv, which says import monday.csv',
    ])
    await page().waitForFunction(() => location.hash.startsWith('#/records/0001'))
  }, 60_000)

  test('that is a recording is analyzed with its marks', async () => {
    await page().goto(`http://127.0.0.1:${bench.server.port}/#/records`)
    await page().getByText('Import a file from another logger').waitFor()
    await drop('lines-leak.lp', readFileSync(new URL('../../recordings/lines-leak.lp', import.meta.url)))
    await page().getByText('feed-lines-10psi: Fail').waitFor()
  }, 60_000)

  test('that cannot be read is refused with the sentence of the command line, and nothing is taken', async () => {
    // The same sentence as tests/ingest/spreadsheet holds `import` to.
    await drop('flat.csv', Buffer.from('time,p3\n2026-01-05T09:00:00Z,1\n2026-01-05T09:00:00Z,1\n'))
    await page()
      .locator('.note.is-failed', { hasText: /^flat\.csv.*instant|flat\.csv.*same/ })
      .waitFor()
    await shoot(page(), 'drop-refused-phone', true)
    expect(bench.archive.list({ kind: 'hold' })).toHaveLength(1)
    expect(opened.complaints).toEqual([])
  }, 60_000)
})
