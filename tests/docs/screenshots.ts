import { spawn, spawnSync } from 'node:child_process'
import { once } from 'node:events'
import { mkdirSync, mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { launch, open } from '#tests/browser/browser.ts'
import { root } from '#tests/house/source-files.ts'

/** `npx tsx tests/docs/screenshots.ts`, after a build: the pictures of the README and the tutorial. */
const images = join(root, 'docs', 'images')
const folder = mkdtempSync(join(tmpdir(), 'stillhold-pictures-'))
const data = join(folder, 'archive')
const program = join(root, 'dist', 'stillhold.js')
const system = 'recordings/floatplane.yaml'
const size = { width: 1280, height: 800 }
mkdirSync(images, { recursive: true })

function run(...words: string[]): void {
  const { status, stderr } = spawnSync(process.execPath, [program, ...words], { cwd: root, encoding: 'utf8' })
  if (status !== 0) throw new Error(`stillhold ${words.join(' ')}: ${stderr}`)
}

async function serve(...words: string[]) {
  const bench = spawn(process.execPath, [program, 'serve', ...words, '--listen', '127.0.0.1:0'], {
    cwd: root,
    stdio: ['ignore', 'pipe', 'ignore'],
  })
  const [first] = await once(bench.stdout, 'data')
  return { bench, url: String(first).trim() }
}

const browser = await launch()
try {
  for (const recording of ['lines-leak', 'lines-retest'])
    run(...['seal', `recordings/${recording}.lp`, '--system', system, '--operator', 'A. B.', '--data', data])
  run('report', '2', '--data', data, '--out', join(folder, 'report.pdf'))
  spawnSync('pdftoppm', [
    ...['-png', '-r', '72', '-f', '1', '-singlefile'],
    ...[join(folder, 'report.pdf'), join(images, 'report')],
  ])

  const workshop = await serve('--replay', 'recordings/lines-retest.lp', '--system', system, '--data', data)
  try {
    const { page } = await open(browser, workshop.url, size, 'day')
    await page.getByText('Start a hold').first().click()
    await page.getByText('feed-lines-10psi').first().click()
    await page.waitForTimeout(3000)
    await page.screenshot({ path: join(images, 'start.png') })
    await page.goto(`${workshop.url}#/system`)
    await page.getByText('feed-lines').first().waitFor()
    await page.waitForTimeout(3000)
    await page.screenshot({ path: join(images, 'system.png') })
  } finally {
    workshop.bench.kill('SIGTERM')
  }

  const demo = await serve('--demo')
  try {
    for (const look of ['day', 'night'] as const) {
      const { page } = await open(browser, demo.url, size, look)
      await page.getByText('Holding', { exact: true }).waitFor({ timeout: 240_000 })
      // The browser's first sound waits for a touch, and its notice would lie over the curve.
      await page.getByRole('heading').first().click()
      await page.waitForTimeout(look === 'day' ? 8000 : 1000)
      const heard = page.getByText('Heard', { exact: true })
      if (await heard.isVisible()) await heard.click()
      await page.screenshot({ path: join(images, `hold-${look}.png`) })
    }
  } finally {
    demo.bench.kill('SIGTERM')
  }
} finally {
  await browser.close()
  rmSync(folder, { recursive: true, force: true, maxRetries: 3 })
}
