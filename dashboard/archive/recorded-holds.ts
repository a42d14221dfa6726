import { basename } from 'node:path'
import { channelOrigins } from '#analysis/model/samples.ts'
import { isNamed, type System } from '#analysis/model/system.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { readRecordingFile } from '#ingest/recording/read-recording.ts'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'
import { ArchiveError } from './archive-error.ts'
import { hashFile } from './write-durably.ts'

interface SealedBy {
  readonly hold?: string | null
  readonly operator: string
  readonly witness?: string | null
  readonly note?: string | null
}

/**
 * The holds of a recording made elsewhere, ready to be sealed as imported or typed.
 *
 * @param file name for messages and the origin
 * @throws ArchiveError when it cannot be read, or has no hold
 */
export function recordedHolds(
  path: string,
  file: string,
  systemText: string,
  system: System,
  { hold, operator, witness = null, note = null }: SealedBy,
) {
  try {
    const recording = readRecordingFile(path, system)
    const found = analyzeRecording(recording, system, hold == null ? {} : { hold })
    if (found.length === 0) {
      const named = hold ? ` ${hold}` : ''
      throw new ArchiveError('not-found', file, `${file}: no hold${named} found in it; nothing is sealed`)
    }
    const { sha256 } = hashFile(path)
    const claimed = channelOrigins(recording.marks)
    const read = recording.channels.filter(({ timeS }) => timeS.length > 0)
    const origins = system.channels.flatMap((channel) => {
      if (!read.some((each) => each.channel === channel.id)) return []
      const claim = claimed.find((each) => isNamed(channel, each.channel))
      const name = `${basename(file)}${claim ? `, which says ${claim.kind}${claim.name ? ` ${claim.name}` : ''}` : ''}`
      const kind = claim?.kind === 'typed' ? ('typed' as const) : ('import' as const)
      return [{ channel: channel.id, kind, name, sha256 }]
    })
    return found.map(({ result }) => ({
      kind: 'hold' as const,
      recordingPath: path,
      systemText,
      systemName: system.name,
      result,
      ...{ operator, witness, note, origins },
    }))
  } catch (cause) {
    if (!(cause instanceof UnreadableFile)) throw cause
    throw new ArchiveError('bad-record', file, cause.message)
  }
}
