import { basename } from 'node:path'
import { isNamed } from '#analysis/model/system.ts'
import { channelOrigins } from '#analysis/signal/channel-origins.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { ArchiveError } from '#dashboard/archive/archive-error.ts'
import { hashFile } from '#dashboard/archive/write-durably.ts'
import { readRecordingFile } from '#ingest/recording/read-recording.ts'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'
import { tellNotices, withArchive } from './archive-action.ts'
import { type CommandDescription, dataOption, printResult, requiredOption } from './command.ts'
import { openSystem, readable, type SystemOptions, systemOption } from './system-option.ts'

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
    const drafts = draftsOf(file, options)
    withArchive(options.data, { caution: (line) => tellNotices([line]) }, (archive) => {
      for (const draft of drafts) {
        const { id } = archive.seal(draft)
        const { verdict } = draft.result
        printResult(options, { record: id, verdict }, () => `${id}: ${verdict}\n`)
      }
    })
  },
}

function draftsOf(file: string, options: SealOptions) {
  const { hold, operator, ...said } = options
  try {
    const { text: systemText, system } = openSystem(options)
    const recording = readable(file, () => readRecordingFile(file, system))
    const found = analyzeRecording(recording, system, hold === undefined ? {} : { hold })
    if (found.length === 0)
      throw new ArchiveError(
        'not-found',
        file,
        `${file}: no hold${hold ? ` ${hold}` : ''} found in it; nothing is sealed`,
      )
    const { sha256 } = hashFile(file)
    const claimed = channelOrigins(recording.marks)
    const read = recording.channels.filter(({ timeS }) => timeS.length > 0)
    const origins = system.channels.flatMap((channel) => {
      if (!read.some((each) => each.channel === channel.id)) return []
      const said = claimed.find((each) => isNamed(channel, each.channel))
      const name = `${basename(file)}${said ? `, which says ${said.kind}${said.name ? ` ${said.name}` : ''}` : ''}`
      return {
        channel: channel.id,
        kind: said?.kind === 'typed' ? ('typed' as const) : ('import' as const),
        name,
        sha256,
      }
    })
    return found.map(({ result }) => ({
      kind: 'hold' as const,
      recordingPath: file,
      systemText,
      systemName: system.name,
      result,
      operator,
      witness: said.witness ?? null,
      photos: [],
      note: said.note ?? null,
      corrects: null,
      retests: null,
      origins,
    }))
  } catch (cause) {
    if (!(cause instanceof UnreadableFile)) throw cause
    throw new ArchiveError('bad-record', file, cause.message)
  }
}
