import { readdirSync, readFileSync } from 'node:fs'
import { join, sep } from 'node:path'
import { fileURLToPath } from 'node:url'

/** The project's own folder, from wherever the tests are started. */
export const root = fileURLToPath(new URL('../..', import.meta.url))

export interface SourceFile {
  /** From the project's folder, with `/`. */
  readonly path: string
  readonly text: string
}

/** The files below a folder whose names end so, in the order of their names. */
export function filesBelow(folder: string, ...endings: readonly string[]): SourceFile[] {
  return readdirSync(join(root, folder), { recursive: true, encoding: 'utf8' })
    .filter((name) => endings.some((ending) => name.endsWith(ending)))
    .sort()
    .map((name) => {
      const path = `${folder}/${name.split(sep).join('/')}`
      return { path, text: readFileSync(join(root, path), 'utf8') }
    })
}

export const sources = ['analysis', 'ingest', 'dashboard'].flatMap((folder) =>
  filesBelow(folder, '.ts', '.tsx'),
)
export const tests = filesBelow('tests', '.ts', '.tsx')

/** The same text without comments, so that prose about a clock is no clock. */
export function codeOf(text: string): string {
  return text.replaceAll(/\/\*[\s\S]*?\*\/|(?<!:)\/\/.*/g, '')
}

export interface Import {
  readonly from: string
  /** Nothing of it is there when the program runs. */
  readonly isType: boolean
}

/** What a file imports or exports again, as written. */
export function importsOf(text: string): Import[] {
  const found: Import[] = []
  for (const match of codeOf(text).matchAll(
    /\b(?:import|export)\s+(type\s)?(?:([\w*\s{},$]+?)\s+from\s+)?['"]([^'"]+)['"]/g,
  ))
    found.push({ from: match[3], isType: match[1] !== undefined || isTypesOnly(match[2]) })
  for (const match of codeOf(text).matchAll(/\b(?:import|require)\(\s*['"]([^'"]+)['"]\s*\)/g))
    found.push({ from: match[1], isType: false })
  return found
}

function isTypesOnly(names: string | undefined): boolean {
  const inside = /^\{([\s\S]*)\}$/.exec(names?.trim() ?? '')?.[1]
  if (inside === undefined) return false
  return inside
    .split(',')
    .filter((name) => name.trim() !== '')
    .every((name) => name.trim().startsWith('type '))
}
