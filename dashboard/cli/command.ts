import { Argument, type Command, Option } from 'commander'
import { printable } from './printable.ts'

/** Flags, description, and a default or a parser of the value. */
type OptionRow = readonly [flags: string, about: string, ...rest: readonly unknown[]]

/** Arguments, options and action of a command. Its description is in the list of commands. */
export interface CommandDescription {
  readonly alias?: string
  readonly arguments?: readonly (Argument | readonly [name: string, about: string])[]
  readonly options?: readonly (OptionRow | Option)[]
  /** Printed in its help before the examples. */
  readonly help?: string
  /** Without the program's name. */
  readonly examples?: readonly string[]
  /** Called with the arguments, then the options, then the command. */
  readonly run?: (...given: never[]) => unknown
  readonly commands?: Readonly<Record<string, CommandDescription & { readonly about: string }>>
}

/** Gives a command its arguments, options, help and action. */
export function describeCommand(command: Command, described: CommandDescription): void {
  const { alias, help, examples = [], run } = described
  if (alias !== undefined) command.alias(alias)
  for (const each of described.arguments ?? [])
    command.addArgument(each instanceof Argument ? each : new Argument(...each))
  for (const each of described.options ?? [])
    if (each instanceof Option) command.addOption(each)
    else command.option(...(each as readonly [string, string, string?]))
  for (const [name, each] of Object.entries(described.commands ?? {}))
    describeCommand(command.command(name).description(each.about), each)
  const shown = examples.map((each) => `\n  $ stillhold ${each}`).join('')
  const title = examples.length > 1 ? '\nExamples:' : '\nExample:'
  const after = [help === undefined ? [] : `\n${help}`, examples.length === 0 ? [] : title + shown].flat()
  if (after.length > 0) command.addHelpText('after', after.join('\n'))
  if (run === undefined) return
  command.action(async (...given: unknown[]) => {
    try {
      await run(...(given as never[]))
    } catch (cause) {
      process.exitCode = complain(cause)
    }
  })
}

export const dataOption = ['--data <folder>', 'folder of the archive'] as const

export function requiredOption(flags: string, about: string): Option {
  return new Option(flags, about).makeOptionMandatory()
}

export function choiceOption(flags: string, about: string, choices: readonly string[]): Option {
  return new Option(flags, about).choices(choices)
}

/** Reads an option that may be given again. */
export const repeated = (value: string, all: readonly string[] = []): readonly string[] => [...all, value]

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

/** A result: one line of JSON if requested, else the text. */
export function printResult({ json }: { readonly json?: boolean }, value: unknown, text: () => string): void {
  process.stdout.write(json ? `${JSON.stringify(value)}\n` : text())
}
