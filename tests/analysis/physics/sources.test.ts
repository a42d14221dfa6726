import { readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, it } from 'vitest'

const kernel = ['analysis/numeric', 'analysis/physics', 'tests/analysis/numeric', 'tests/analysis/physics']
const everywhere = ['analysis', 'tests/analysis']

function text(folder: string): string {
  return readdirSync(folder, { recursive: true, encoding: 'utf8' })
    .filter((name) => name.endsWith('.ts'))
    .map((name) => readFileSync(join(folder, name), 'utf8'))
    .join('\n')
}

/** Keys look like `[nist-strd]`: lower case, at least one letter, not code. */
function citedKeys(code: string): string[] {
  const comments = code.match(/\/\*\*[\s\S]*?\*\/|\/\/.*/g) ?? []
  return comments.flatMap((comment) =>
    [...comment.matchAll(/\[((?:\d+-)?[a-z]+(?:-[a-z0-9.]+)*)\]/g)].map((match) => match[1]),
  )
}

/** Units stand in brackets too. */
const units = ['kg', 'mol', 's', 'm', 'from']

const listed = new Set(
  [...readFileSync('docs/sources.md', 'utf8').matchAll(/^\| `([^`]+)` \|/gm)].map((match) => match[1]),
)

it('docs/sources.md names every source the kernel cites', () => {
  const cited = citedKeys(kernel.map(text).join('\n')).filter((key) => !units.includes(key))
  expect([...new Set(cited)].filter((key) => !listed.has(key))).toEqual([])
})

it('every source that docs/sources.md lists under a key is cited somewhere', () => {
  const cited = new Set(citedKeys(everywhere.map(text).join('\n')))
  const method = readFileSync('docs/method.md', 'utf8')
  expect([...listed].filter((key) => !cited.has(key) && !method.includes(`[${key}]`))).toEqual([])
})
