import { readFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import type { Page } from 'playwright-core'

/** Run through the debugger, since the page's policy admits no script from outside. */
const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8')

interface AxeResult {
  readonly violations: readonly {
    readonly id: string
    readonly nodes: readonly { readonly html: string }[]
  }[]
}

/** What axe finds against WCAG 2.2 AA and its own best practice, in the look in force. */
export async function violationsOf(page: Page): Promise<string[]> {
  await page.evaluate(axe)
  const { violations } = await page.evaluate<AxeResult>(() =>
    (window as unknown as { axe: { run: (where: Document, how: object) => Promise<AxeResult> } }).axe.run(
      document,
      { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] },
    ),
  )
  return violations.map((one) => `${one.id}: ${one.nodes.map(({ html }) => html).join(' ')}`)
}

/** The same by day and by night. */
export async function violationsByDayAndNight(page: Page): Promise<string[]> {
  const found: string[] = []
  for (const colorScheme of ['light', 'dark'] as const) {
    await page.emulateMedia({ colorScheme })
    await page.waitForTimeout(200)
    found.push(...(await violationsOf(page)).map((one) => `${colorScheme}: ${one}`))
  }
  await page.emulateMedia({ colorScheme: 'light' })
  return found
}
