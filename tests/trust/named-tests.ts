import { existsSync, readFileSync } from 'node:fs'

const root = new URL('../../', import.meta.url)

/** Tests that a page names as `file` "title", and of each what is wrong with it; null where file and title are there. */
export function namedTests(page: string): { file: string; title: string; wrong: string | null }[] {
  const text = readFileSync(new URL(page, root), 'utf8')
  return [...text.matchAll(/`(tests\/[\w./-]+\.test\.ts)` "([^"]+)"/g)].map(([, file, title]) => {
    const path = new URL(file, root)
    if (!existsSync(path)) return { file, title, wrong: `${file} is gone` }
    const isThere = readFileSync(path, 'utf8').includes(title)
    return { file, title, wrong: isThere ? null : `${file} has no test "${title}"` }
  })
}
