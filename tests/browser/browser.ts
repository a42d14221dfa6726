import { accessSync, constants, mkdirSync } from 'node:fs'
import { delimiter, join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { type Browser, type BrowserContext, chromium, type Page } from 'playwright-core'

function onPath(...names: readonly string[]): string | null {
  for (const folder of (process.env.PATH ?? '').split(delimiter)) {
    for (const name of names) {
      const file = join(folder, name)
      try {
        accessSync(file, constants.X_OK)
        return file
      } catch {
        // Not in this folder.
      }
    }
  }
  return null
}

export const browserPath = onPath('chromium', 'chromium-browser', 'google-chrome', 'google-chrome-stable')
/** Said in a title where there is none. */
export const withoutBrowser = browserPath === null ? ' (skipped: no chromium on the PATH)' : ''

export const launch = (): Promise<Browser> =>
  chromium.launch({
    executablePath: browserPath!,
    args: [
      '--headless',
      '--no-sandbox',
      '--disable-gpu',
      '--disable-quic',
      '--no-first-run',
      '--disable-background-networking',
      '--disable-component-update',
      '--disable-sync',
    ],
  })

export interface Opened {
  readonly page: Page
  readonly context: BrowserContext
  /** What the page complained about: refused styles, failed scripts, anything the policy blocked. */
  readonly complaints: string[]
}

export async function open(
  browser: Browser,
  url: string,
  size: { readonly width: number; readonly height: number } = { width: 1280, height: 800 },
  look: 'day' | 'night' = 'day',
): Promise<Opened> {
  const context = await browser.newContext({
    viewport: size,
    colorScheme: look === 'night' ? 'dark' : 'light',
    reducedMotion: 'reduce',
  })
  const page = await context.newPage()
  const complaints: string[] = []
  page.on('pageerror', (error) => complaints.push(error.message))
  page.on('console', (message) => {
    // A refused connection is what some tests are about; the page's own banner says it.
    if (message.type() === 'error' && !/Failed to load resource|ERR_/.test(message.text())) {
      complaints.push(message.text())
    }
  })
  await page.goto(url)
  return { page, context, complaints }
}

const folder = fileURLToPath(new URL('../../artifacts', import.meta.url))

export async function shoot(page: Page, name: string, fullPage = false): Promise<void> {
  mkdirSync(folder, { recursive: true })
  await page.screenshot({ path: join(folder, `${name}.png`), fullPage })
}
