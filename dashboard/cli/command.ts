import { Argument, type Command, Option } from 'commander'
import { printable } from './terminal.ts'

declare const __STILLHOLD_VERSION__: string | undefined

/** Version of package.json, inserted by the build; `0.0.0-dev` when run from the sources. */
export const programVersion = typeof __STILLHOLD_VERSION__ === 'string' ? __STILLHOLD_VERSION__ : '0.0.0-dev'

/** How an option is read; its type follows from its flags and from this. */
interface Reading {
  readonly required?: true
  readonly default?: string
  readonly choices?: readonly string[]
  /** Called for each time the option is given. */
  readonly parse?: (text: string, before?: never) => unknown
}

type OptionRow = readonly [flags: string, about: string, reading?: Reading]

type CamelCase<S> = S extends `${infer A}-${infer B}` ? `${A}${Capitalize<CamelCase<B>>}` : S
type NameOf<Flags> = Flags extends `--${infer Name} ${string}` | `--${infer Name}` ? CamelCase<Name> : never
type ValueOf<Row> = Row extends readonly [string, string, { readonly parse: (...given: never[]) => infer T }]
  ? T
  : Row extends readonly [string, string, { readonly choices: readonly (infer Choice)[] }]
    ? Choice
    : Row extends readonly [`${string} <${string}...>`, ...unknown[]]
      ? readonly string[]
      : Row extends readonly [`${string} <${string}>`, ...unknown[]]
        ? string
        : Row extends readonly [`${string} [${string}]`, ...unknown[]]
          ? string | true
          : boolean
type Given = readonly [string, string, { readonly required: true } | { readonly default: string }]

/** The options of a command as they are read. */
export type OptionsOf<Rows extends readonly OptionRow[]> = {
  readonly [Row in Extract<Rows[number], Given> as NameOf<Row[0]>]: ValueOf<Row>
} & {
  readonly [Row in Exclude<Rows[number], Given> as NameOf<Row[0]>]?: ValueOf<Row>
}

/** Arguments, options and action of a command. Its description is in the list of commands, or is `about`. */
export interface CommandDescription<Rows extends readonly OptionRow[] = never> {
  readonly about?: string
  readonly alias?: string
  readonly arguments?: readonly (Argument | readonly [name: string, about: string])[]
  readonly options?: Rows
  /** Printed in its help before the examples. */
  readonly help?: string
  /** Without the program's name. */
  readonly examples?: readonly string[]
  /** Called with the options, the arguments, and the command. */
  readonly run?: (options: OptionsOf<Rows>, ...given: never[]) => unknown
  readonly commands?: Readonly<Record<string, CommandDescription>>
}

/** A command whose action has its options by their types. */
export function defineCommand<const Rows extends readonly OptionRow[] = []>(
  described: CommandDescription<Rows>,
): CommandDescription {
  return described as unknown as CommandDescription
}

/** Gives a command its arguments, options, help and action. */
export function describeCommand(command: Command, described: CommandDescription): void {
  const { about, alias, help, examples = [], run } = described
  if (about !== undefined) command.description(about)
  if (alias !== undefined) command.alias(alias)
  for (const each of described.arguments ?? [])
    command.addArgument(each instanceof Argument ? each : new Argument(...each))
  for (const row of (described.options ?? []) as readonly OptionRow[]) command.addOption(optionOf(row))
  for (const [name, each] of Object.entries(described.commands ?? {}))
    describeCommand(command.command(name), each)
  const shown = examples.map((each) => `\n  $ stillhold ${each}`).join('')
  const title = examples.length > 1 ? '\nExamples:' : '\nExample:'
  const after = [help === undefined ? [] : `\n${help}`, examples.length === 0 ? [] : title + shown].flat()
  if (after.length > 0) command.addHelpText('after', after.join('\n'))
  if (run === undefined) return
  command.action(async (...given: unknown[]) => {
    const [options, own] = given.splice(-2)
    try {
      await run(options as never, ...([...given, own] as never[]))
    } catch (cause) {
      process.exitCode = complain(cause)
    }
  })
}

function optionOf([flags, about, reading = {}]: OptionRow): Option {
  const option = new Option(flags, about).makeOptionMandatory(reading.required === true)
  if (reading.default !== undefined) option.default(reading.default)
  if (reading.choices) option.choices(reading.choices)
  if (reading.parse) option.argParser(reading.parse as (text: string) => unknown)
  return option
}

/** An option that may be given again. */
export const many = {
  parse: (value: string, all: readonly string[] = []): readonly string[] => [...all, value],
} as const

export const dataOption = ['--data <folder>', 'folder of the archive'] as const
export const jsonOption = ['--json', 'print results as JSON, one object a line'] as const

const inputErrors = ['ArchiveError', 'UnreadableFile', 'SheetError']

/**
 * Reports a fault of the disk, the archive, a file, a sheet or the user's input as one line on standard error.
 *
 * @throws any other error
 */
export function complain(cause: unknown): 2 {
  if (!(cause instanceof Error && inputErrors.includes(cause.name))) throw cause
  process.stderr.write(`stillhold: ${printable(cause.message)}\n`)
  return 2
}

/** Runs a server until it is stopped: a plain error ends the program with one line and exit code 2. */
export async function runListening(command: Command, work: () => Promise<void> | void): Promise<void> {
  try {
    await work()
  } catch (error) {
    if (!(error instanceof Error) || error instanceof TypeError || error instanceof RangeError) throw error
    command.error(`stillhold ${command.name()}: ${error.message}`, { exitCode: 2 })
  }
}

/**
 * Signals that end the program in order: Ctrl+C, a service's stop, and on Windows Ctrl+Break and the closing of the
 * window. Elsewhere the hang-up handler is unchanged, because `nohup` must keep the program running.
 */
export const stopSignals: readonly NodeJS.Signals[] =
  process.platform === 'win32' ? ['SIGINT', 'SIGTERM', 'SIGBREAK', 'SIGHUP'] : ['SIGINT', 'SIGTERM']

/** A result: one line of JSON if requested, else the text. */
export function printResult({ json }: { readonly json?: boolean }, value: unknown, text: () => string): void {
  process.stdout.write(json ? `${JSON.stringify(value)}\n` : text())
}
