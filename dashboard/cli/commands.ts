import { Command } from 'commander'
import { type CommandDescription, describeCommand, programVersion } from './command.ts'

/** Description and module of each command: only the requested command is loaded. */
const commands: Readonly<Record<string, readonly [about: string, load: () => Promise<CommandDescription>]>> =
  {
    serve: [
      'read the loggers, show the bench in the browser, keep the archive',
      async () => (await import('./serve.ts')).command,
    ],
    demo: [
      'see it work: a simulated bench in the browser, which saves nothing',
      async () => (await import('./serve.ts')).demo,
    ],
    init: ['write a first system file, to be filled in', async () => (await import('./init.ts')).command],
    plan: [
      'before the test: what this hold can decide, how long it takes, cautions',
      async () => (await import('./plan.ts')).command,
    ],
    record: [
      'write logger data into a recording, without a dashboard',
      async () => (await import('./record.ts')).command,
    ],
    import: [
      'turn a spreadsheet or another logger’s file into a recording',
      async () => (await import('./import.ts')).command,
    ],
    analyze: [
      'analyze every hold found in the recordings',
      async () => (await import('./analyze.ts')).command,
    ],
    'calibrate-check': [
      'the rate of a known leak: from its capillary, from displaced water, or from a hold',
      async () => (await import('./calibrate-check.ts')).command,
    ],
    hunt: [
      'which fittings may leak, how likely, and which hold or look to do next',
      async () => (await import('./hunt.ts')).command,
    ],
    compare: [
      'before and after work: did the leak change, by how much, how certain',
      async () => (await import('./compare.ts')).command,
    ],
    ledger: [
      'the state of proof of every fitting in the archive',
      async () => (await import('./ledger.ts')).command,
    ],
    campaign: [
      'the set-ups that close the ledger soonest, from what is proven now',
      async () => (await import('./campaign.ts')).command,
    ],
    history: [
      'every hold of a section over months: leak, work between, significant changes',
      async () => (await import('./history.ts')).command,
    ],
    flow: [
      'check the fuel delivered against what the engine takes at take-off',
      async () => (await import('./fuel-work.ts')).flow,
    ],
    level: [
      'calibrate a level sender against known fuel added',
      async () => (await import('./fuel-work.ts')).level,
    ],
    torque: [
      'torque of every fitting: print the ranges, or judge a work sheet',
      async () => (await import('./fuel-work.ts')).torque,
    ],
    wet: [
      'the first fuel: print the checklist, or judge a stage from its sheet',
      async () => (await import('./fuel-work.ts')).wet,
    ],
    seal: [
      'sign and lock the holds of a recording into the archive, as imported or typed',
      async () => (await import('./seal.ts')).command,
    ],
    report: [
      'write the test report of a record as a PDF that carries its own data',
      async () => (await import('./report.ts')).command,
    ],
    verify: [
      'check a test report, a record or a whole archive, recomputing every verdict',
      async () => (await import('./verify.ts')).command,
    ],
    export: [
      'write a record as CSV, line protocol or JSON, or whole archives as one table',
      async () => (await import('./export.ts')).command,
    ],
    archive: ['manage the archive of sealed records', async () => (await import('./archive.ts')).command],
    completion: [
      'print the script that completes commands and options in a shell',
      async () => (await import('./completion.ts')).command,
    ],
  }
const aliases: Readonly<Record<string, string>> = { certify: 'report' }

/** The program with its commands, with full help for the requested one. */
export async function programFor(words: readonly string[]): Promise<Command> {
  const program = newProgram(programVersion)
  const [first = '', second = '', third = ''] = words.filter((word) => !word.startsWith('-'))
  const asked = [first === 'help' ? second : first, second === 'offers' ? third : '']
  for (const [name, [about, load]] of Object.entries(commands)) {
    const command = program.command(name).description(about)
    if (asked.some((each) => name === (aliases[each] ?? each))) describeCommand(command, await load())
  }
  return program
}

/**
 * The program without its commands. A usage error is one line on standard error and exit code 2; commands
 * added afterwards inherit that.
 */
export function newProgram(version: string): Command {
  return new Command('stillhold')
    .description('Proves that a small aircraft’s fuel system does not leak.')
    .version(version, '-V, --version', 'print the version')
    .helpOption('-h, --help', 'print this help')
    .helpCommand('help [command]', 'print the help of a command')
    .showSuggestionAfterError()
    .configureHelp({ subcommandTerm: (command) => command.name() })
    .configureOutput({ outputError: (text, write) => write(`${oneLine(text)}\n`) })
    .exitOverride(({ exitCode }) => process.exit(exitCode === 1 ? 2 : exitCode))
    .addHelpText('after', '\nTo see it work:\n  $ stillhold demo --open')
}

function oneLine(text: string): string {
  const line = text.trim().replaceAll(/\s*\n\s*/g, ' ')
  return line.startsWith('error: ') ? `stillhold: ${line.slice('error: '.length)}` : line
}
