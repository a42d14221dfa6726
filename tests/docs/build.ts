import { readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { systemSchema } from '#ingest/system-file/read-system-file.ts'
import { huntCases } from '#tests/analysis/hunt/hunt-cases.ts'
import { builtProgram } from '#tests/built-program.ts'
import { root } from '#tests/house/source-files.ts'
import { writeKept } from '#tests/kept-figures.ts'
import { demoCases } from '#tests/validation/demo-cases.ts'
import { pagesWithOutputs, withOutputs } from './page-outputs.ts'
import { withFreshLines } from './tutorial-steps.ts'

/** `npm run docs`: writes what the commands print now into the pages that show it, and figures into the files that keep them. */
writeFileSync(
  join(root, 'docs/formats/system-file.schema.json'),
  `${JSON.stringify(systemSchema, null, 2)}\n`,
)
for (const [folder, cases] of [
  ['tests/analysis/hunt', huntCases],
  ['tests/validation', demoCases],
] as const) {
  const file = `${folder}/kept-figures.json`
  if (writeKept(join(root, file), cases)) process.stdout.write(`${file}\n`)
}
const program = await builtProgram()
const tutorial = 'docs/tutorial.md'
const pages = [...pagesWithOutputs(), { path: tutorial, text: readFileSync(join(root, tutorial), 'utf8') }]
for (const { path, text } of pages) {
  const built = path === tutorial ? withFreshLines(text, program) : withOutputs(text, program)
  if (built === text) continue
  writeFileSync(join(root, path), built)
  process.stdout.write(`${path}\n`)
}
