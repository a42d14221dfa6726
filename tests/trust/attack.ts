import { readFileSync, writeFileSync } from 'node:fs'
import { parseArgs } from 'node:util'
import { archiveAttacks } from './attacks/archive-attacks.ts'
import type { Attack } from './attacks/attack.ts'
import { benchAttacks } from './attacks/bench-attacks.ts'
import { reportAttacks } from './attacks/report-attacks.ts'
import { requestAttacks } from './attacks/request-attacks.ts'
import { stopAttacks } from './attacks/stop-attacks.ts'
import { timeAttacks } from './attacks/time-attacks.ts'

/** Every attack of the table in docs/reliability.md, in its order. */
export const attacks: readonly Attack[] = [
  ...reportAttacks,
  ...archiveAttacks,
  ...timeAttacks,
  ...stopAttacks,
  ...requestAttacks,
  ...benchAttacks,
]

const page = new URL('../../docs/reliability.md', import.meta.url)
const table = /(<!-- attacks: npm run attack -- --write -->\n)[\s\S]*?(\n<!-- end -->)/

/** Rows of the table as they stand in the document: name, tried, wrong. */
export function documentedRows(): { name: string; tried: number; wrong: number }[] {
  const [block] = table.exec(readFileSync(page, 'utf8')) ?? ['']
  return [...block.matchAll(/^\| (.+?) \| ([\d,]+) \| ([\d,]+) \|$/gm)].map(([, name, tried, wrong]) => ({
    name,
    tried: Number(tried.replaceAll(',', '')),
    wrong: Number(wrong.replaceAll(',', '')),
  }))
}

async function main(): Promise<void> {
  const { values } = parseArgs({
    options: { quick: { type: 'boolean' }, write: { type: 'boolean' }, only: { type: 'string' } },
  })
  const rows = ['| Attack | tried | wrong |', '| --- | --- | --- |']
  let wrongs = 0
  for (const attack of attacks) {
    if (values.only !== undefined && !attack.name.includes(values.only)) continue
    const { tried, wrong } = await attack.run(values.quick ?? false)
    wrongs += wrong.length
    for (const line of wrong) process.stderr.write(`WRONG ${attack.name}: ${line}\n`)
    rows.push(`| ${attack.name} | ${tried.toLocaleString('en')} | ${wrong.length} |`)
    process.stderr.write(`${rows.at(-1)}\n`)
  }
  const text = rows.join('\n')
  process.stdout.write(`${text}\n`)
  if (values.write && values.only === undefined)
    writeFileSync(page, readFileSync(page, 'utf8').replace(table, `$1${text}$2`))
  process.exitCode = wrongs === 0 ? 0 : 1
}

if (process.argv[1] === new URL(import.meta.url).pathname) await main()
