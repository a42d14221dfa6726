import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { mkdirSync } from 'node:fs'
import { join } from 'node:path'
import { launch, open } from '#tests/browser/browser.ts'
import { root } from '#tests/house/source-files.ts'

/** `tsx tests/docs/screenshots.ts`: the demo bench as it looks by day and by night, for the README. */
const images = join(root, 'docs', 'images')
mkdirSync(images, { recursive: true })
const bench = spawn(
  process.execPath,
  [join(root, 'dist/stillhold.js'), 'serve', '--demo', '--listen', '127.0.0.1:0'],
  {
    stdio: ['ignore', 'pipe', 'ignore'],
  },
)
const [first] = await once(bench.stdout, 'data')
const url = String(first).trim()
const browser = await launch()
try {
  const { page } = await open(browser, url, { width: 1280, height: 800 }, 'day')
  await page.getByText('Holding', { exact: true }).waitFor({ timeout: 120_000 })
  // Far enough into the hold that the interval has narrowed, and before the demo vents.
  await page.waitForTimeout(16_000)
  await page.screenshot({ path: join(images, 'hold-day.png') })
  const night = await open(browser, url, { width: 1280, height: 800 }, 'night')
  await night.page.getByText('Holding', { exact: true }).waitFor({ timeout: 60_000 })
  await night.page.waitForTimeout(6000)
  await night.page.screenshot({ path: join(images, 'hold-night.png') })
} finally {
  await browser.close()
  bench.kill('SIGTERM')
}
