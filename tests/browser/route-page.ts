import { join } from 'node:path'
import type { Page } from 'playwright-core'
import { pageFolder } from './build-page.ts'

/** The page just built, before a real server: only what it asks of /api goes there. */
export const routePage = (page: Page, folder = pageFolder): Promise<unknown> =>
  page.route(
    ({ pathname }) => !pathname.startsWith('/api/'),
    (route) => {
      const { pathname } = new URL(route.request().url())
      return route.fulfill({ path: join(folder, pathname === '/' ? 'index.html' : pathname) })
    },
  )
