import { existsSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { createInterface } from 'node:readline/promises'
import { writeFileDurably } from '#dashboard/archive/write-durably.ts'
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
import { type CommandDescription, choiceOption, printResult } from './command.ts'
import { readable, usualFile } from './system-option.ts'

interface InitOptions {
  readonly layout?: string
  readonly name?: string
  readonly instruments?: Instruments
  readonly out: string
  readonly force?: boolean
  readonly json?: boolean
}

export const command: CommandDescription = {
  options: [
    choiceOption(
      '--layout <name>',
      'layout to begin from; asked for on a terminal',
      layouts.map(({ id }) => id),
    ),
    ['--name <text>', 'name of the system (default: that of the layout)'],
    choiceOption('--instruments <kind>', 'what you measure with (default: dial)', Object.keys(instruments)),
    ['--out <file>', 'where to write it; - is standard output', usualFile],
    ['--force', 'overwrite the file if it exists'],
    ['--json', 'print what was written as JSON'],
  ],
  help: `Layouts, all generic and invented:
${named(layouts.map(({ id, about }) => [id, about]))}

Instruments:
${named(Object.entries(instruments))}

The JSON Schema of system files is written beside it, so that editors complete and check.`,
  examples: ['init --layout high-wing --name "two-seat floatplane" --instruments dial'],
  run: async (options: InitOptions) => write(options, await answers(options)),
}

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
  const text = firstSystemFile(layout, name, kit)
  if (out === '-') {
    process.stdout.write(text)
    return
  }
  if (existsSync(out) && force !== true)
    throw new UnreadableFile(out, null, 'already exists; choose another name with --out, or add --force')
  const schema = join(dirname(out), schemaFile)
  readable(out, () => writeFileDurably(out, text))
  readable(schema, () => writeFileDurably(schema, `${JSON.stringify(systemSchema, null, 2)}\n`))
  printResult(options, { file: out, schema, layout: layout.id }, () => `${out}\n`)
  process.stderr.write(
    'Put in your own volumes, limits, fittings and allowances, those of the maker first. Then: stillhold plan --hold ID\n',
  )
}
