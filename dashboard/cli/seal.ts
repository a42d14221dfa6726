import { recordedHolds } from '#dashboard/archive/recorded-holds.ts'
import { tellNotices, withArchive } from './archive-action.ts'
import { type CommandDescription, dataOption, printResult, requiredOption } from './command.ts'
import { openSystem, type SystemOptions, systemOption } from './system-option.ts'

interface SealOptions extends Pick<SystemOptions, 'system'> {
  readonly operator: string
  readonly witness?: string
  readonly note?: string
  readonly hold?: string
  readonly data?: string
  readonly json?: boolean
}

export const command: CommandDescription = {
  arguments: [['<rec>', 'recording (*.lp)']],
  options: [
    systemOption,
    requiredOption('--operator <name>', 'who made the hold'),
    ['--witness <name>', 'who saw it'],
    ['--note <text>', 'a note for the record'],
    ['--hold <id>', 'only the holds of this id'],
    dataOption,
    ['--json', 'print one JSON object a record'],
  ],
  help: `The record says that its readings were imported from this file. The ledger counts it only after
stillhold archive accept.`,
  examples: ['seal left-feed.lp --operator "A. B."'],
  run: (file: string, options: SealOptions) => {
    const { text, system } = openSystem(options)
    const drafts = recordedHolds(file, file, text, system, options)
    withArchive(options.data, { caution: (line) => tellNotices([line]) }, (archive) => {
      for (const draft of drafts) {
        const { id } = archive.seal(draft)
        const { verdict } = draft.result
        printResult(options, { record: id, verdict }, () => `${id}: ${verdict}\n`)
      }
    })
  },
}
