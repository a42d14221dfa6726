import { recordedHolds } from '#dashboard/archive/recorded-holds.ts'
import { tellNotices, withArchive } from './archive-action.ts'
import { dataOption, defineCommand, jsonOption, printResult } from './command.ts'
import { openSystem, systemOption } from './options.ts'

export const command = defineCommand({
  arguments: [['<rec>', 'recording (*.lp)']],
  options: [
    systemOption,
    ['--operator <name>', 'who made the hold', { required: true }],
    ['--witness <name>', 'who saw it'],
    ['--note <text>', 'a note for the record'],
    ['--hold <id>', 'only the holds of this id'],
    dataOption,
    jsonOption,
  ],
  help: `The record says that its readings were imported from this file. The ledger counts it only after
stillhold archive accept.`,
  examples: ['seal left-feed.lp --operator "A. B."'],
  run: (options, file: string) => {
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
})
