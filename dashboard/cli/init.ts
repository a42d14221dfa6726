import { dirname, join } from 'node:path'
import { createInterface } from 'node:readline/promises'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'
import {
  firstSystemFile,
  type Instruments,
  instruments,
  type Layout,
  layouts,
  schemaFile,
} from '#ingest/system-file/layouts.ts'
import { systemSchema } from '#ingest/system-file/read-system-file.ts'
import { defineCommand, jsonOption, type OptionsOf, printResult } from './command.ts'
import { refuseExisting, usualFile, writeOut } from './options.ts'

const options = [
  [
    '--layout <name>',
    'layout to begin from; asked for on a terminal',
    { choices: layouts.map(({ id }) => id) },
  ],
  ['--name <text>', 'name of the system (default: that of the layout)'],
  [
    '--instruments <kind>',
    'what you measure with (default: dial)',
    { choices: Object.keys(instruments) as Instruments[] },
  ],
  ['--out <file>', 'where to write it; - is standard output', { default: usualFile }],
  ['--force', 'overwrite the file if it exists'],
  jsonOption,
] as const
type InitOptions = OptionsOf<typeof options>

export const command = defineCommand({
  options,
  help: `Layouts, all generic and invented:
${named(layouts.map(({ id, about }) => [id, about]))}

Instruments:
${named(Object.entries(instruments))}

The JSON Schema of system files is written beside it, so that editors complete and check.`,
  examples: ['init --layout high-wing --name "two-seat floatplane" --instruments dial'],
  run: async (given) => write(given, await answers(given)),
})

function named(rows: readonly (readonly [id: string, about: string])[]): string {
  return rows.map(([id, about]) => `  ${id.padEnd(14)} ${about}`).join('\n')
}

interface Answers {
  readonly layout: Layout | null
  readonly name: string
  readonly kit: Instruments
}

/** Asks for options not given, on an interactive terminal. */
async function answers(options: InitOptions): Promise<Answers> {
  const named = layouts.find(({ id }) => id === options.layout) ?? null
  if (named !== null || process.stdin.isTTY !== true)
    return { layout: named, name: options.name ?? named?.about ?? '', kit: options.instruments ?? 'dial' }
  const terminal = createInterface({ input: process.stdin, output: process.stderr })
  const choice = async <T>(question: string, all: readonly (readonly [T, string])[]): Promise<T> => {
    const list = all.map(([, about], i) => `  ${i + 1}  ${about}\n`).join('')
    for (;;) {
      const answer = Number(await terminal.question(`${question}\n${list}1 to ${all.length}: `))
      const chosen = all[answer - 1]
      if (chosen !== undefined) return chosen[0]
    }
  }
  try {
    const layout = await choice(
      'Which layout is nearest to yours?',
      layouts.map((one) => [one, one.about]),
    )
    const kit =
      options.instruments ??
      (await choice('What do you measure with?', Object.entries(instruments) as [Instruments, string][]))
    const name = options.name ?? (await terminal.question(`Name of the system (${layout.about}): `)).trim()
    return { layout, name: name || layout.about, kit }
  } finally {
    terminal.close()
  }
}

function write({ out, force, ...options }: InitOptions, { layout, name, kit }: Answers): void {
  if (layout === null)
    throw new UnreadableFile(
      'init',
      null,
      `no layout is named: add --layout ${layouts.map(({ id }) => id).join(' | ')}`,
    )
  refuseExisting(out, force)
  writeOut(out, firstSystemFile(layout, name, kit))
  if (out === '-') return
  const schema = join(dirname(out), schemaFile)
  writeOut(schema, `${JSON.stringify(systemSchema, null, 2)}\n`)
  printResult(options, { file: out, schema, layout: layout.id }, () => `${out}\n`)
  process.stderr.write(
    'Put in your own volumes, limits, fittings and allowances, those of the maker first. Then: stillhold plan --hold ID\n',
  )
}
