import type { Command } from 'commander'
import { type CommandDescription, describeCommand } from './command.ts'
import { newProgram } from './new-program.ts'
import { programVersion } from './program-version.ts'

/** Description and module of each command: only the requested command is loaded. */
const commands: Readonly<
  Record<string, readonly [about: string, load: () => Promise<{ readonly command: CommandDescription }>]>
> = {
  serve: ['read the loggers, show the bench in the browser, keep the archive', () => import('./serve.ts')],
  demo: ['see it work: a simulated bench in the browser, which saves nothing', () => import('./demo.ts')],
  init: ['write a first system file, to be filled in', () => import('./init.ts')],
  plan: [
    'before the test: what this hold can decide, how long it takes, cautions',
    () => import('./plan.ts'),
  ],
  record: ['write logger data into a recording, without a dashboard', () => import('./record.ts')],
  import: ['turn a spreadsheet or another logger’s file into a recording', () => import('./import.ts')],
  analyze: ['analyze every hold found in the recordings', () => import('./analyze.ts')],
  'calibrate-check': [
    'the rate of a known leak: from its capillary, from displaced water, or from a hold',
    () => import('./calibrate-check.ts'),
  ],
  hunt: ['which fittings may leak, how likely, and which hold or look to do next', () => import('./hunt.ts')],
  compare: [
    'before and after work: did the leak change, by how much, how certain',
    () => import('./compare.ts'),
  ],
  ledger: ['the state of proof of every fitting in the archive', () => import('./ledger.ts')],
  campaign: [
    'the set-ups that close the ledger soonest, from what is proven now',
    () => import('./campaign.ts'),
  ],
  history: [
    'every hold of a section over months: leak, work between, significant changes',
    () => import('./history.ts'),
  ],
  flow: ['check the fuel delivered against what the engine takes at take-off', () => import('./flow.ts')],
  level: ['calibrate a level sender against known fuel added', () => import('./level.ts')],
  torque: ['torque of every fitting: print the ranges, or judge a work sheet', () => import('./torque.ts')],
  wet: ['the first fuel: print the checklist, or judge a stage from its sheet', () => import('./wet.ts')],
  seal: [
    'sign and lock the holds of a recording into the archive, as imported or typed',
    () => import('./seal.ts'),
  ],
  report: [
    'write the test report of a record as a PDF that carries its own data',
    () => import('./report.ts'),
  ],
  verify: [
    'check a test report, a record or a whole archive, recomputing every verdict',
    () => import('./verify.ts'),
  ],
  export: [
    'write a record as CSV, line protocol or JSON, or whole archives as one table',
    () => import('./export.ts'),
  ],
  archive: ['manage the archive of sealed records', () => import('./archive.ts')],
  completion: [
    'print the script that completes commands and options in a shell',
    () => import('./completion.ts'),
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
    if (asked.some((each) => name === (aliases[each] ?? each)))
      describeCommand(command, (await load()).command)
  }
  return program
}
