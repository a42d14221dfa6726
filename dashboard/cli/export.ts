import { closeSync, openSync, writeSync } from 'node:fs'
import type { Archive } from '#dashboard/archive/archive.ts'
import { ArchiveError, diskError } from '#dashboard/archive/archive-error.ts'
import { ArchiveEvidence } from '#dashboard/archive/archive-evidence.ts'
import { readEvidence } from '#dashboard/archive/archive-folder.ts'
import { tableRows } from '#dashboard/archive/evidence-table.ts'
import { systemOfRecord } from '#dashboard/archive/recompute-hold.ts'
import { samplesCsv } from '#dashboard/archive/samples-csv.ts'
import { publicKeyFromBase64 } from '#dashboard/archive/signing-key.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { knownIn, withArchive } from './archive-action.ts'
import { defineCommand } from './command.ts'

const formats = ['csv', 'lp', 'json'] as const

export const command = defineCommand({
  arguments: [['[id]', 'record: 0007-left-feed-10psi, or just 7']],
  options: [
    [
      '--format <format>',
      'csv: samples and marks; lp: the recording; json: the sealed record',
      { choices: formats, default: 'csv' },
    ],
    ['--out <file>', 'where to write it; - is standard output', { default: '-' }],
    ['--table', 'holds, fittings, work and looks of whole archives, a JSON object a line'],
    ['--data <folder...>', 'folder of the archive; with --table several'],
  ],
  examples: [
    'export 7 --format csv --out left-feed.csv',
    'export --table --data workshop-a workshop-b --out fleet.ndjson',
  ],
  run: (options, id: string | undefined) => {
    if (!id === !options.table)
      throw new UnreadableFile('export', null, 'name one record, or --table for whole archives')
    const folders = options.data ?? [undefined]
    if (id !== undefined && folders.length > 1)
      throw new UnreadableFile('--data', null, 'one record is in one archive: name one folder')
    if (options.table) return writeParts(options.out, tables(folders))
    withArchive(folders[0], { readOnly: true }, (archive) =>
      writeParts(options.out, parts(archive, id!, options.format)),
    )
  },
})

/** Each archive separately, each aircraft in it by the newest of its system files. */
function* tables(folders: readonly (string | undefined)[]): Generator<string> {
  for (const data of folders) {
    const known = knownIn(data)
    const evidence = new ArchiveEvidence()
    for (const name of new Set(known.map(({ record }) => record.system.name))) {
      const own = known.filter(({ record }) => record.system.name === name)
      const { record } = own.at(-1)!
      const system = systemFromFile(record.system.text, `system file of ${record.id}`)
      const { fingerprint } = publicKeyFromBase64(record.public_key)
      for (const row of tableRows(fingerprint.slice(0, 8), system, evidence.of(own)))
        yield `${JSON.stringify(row)}\n`
    }
  }
}

function* parts(
  archive: Archive,
  id: string,
  format: (typeof formats)[number],
): Generator<Uint8Array | string> {
  // Byte for byte as sealed, so that the exported file verifies like the record.
  if (format === 'json') return yield archive.getText(id)
  const record = archive.get(id)
  const path = archive.recordingPath(id)
  if (path === null || record.recording === null) {
    const message = `${record.id} has no recording to export; --format json writes the record`
    throw new ArchiveError('not-found', archive.folder, message)
  }
  const bytes = readEvidence(path, 'read the recording')
  if (format === 'lp') return yield bytes
  const { system, errors } = systemOfRecord(record)
  if (system === null) {
    const message = `the system file of ${record.id} cannot be read: ${errors[0]?.message}; --format lp needs none`
    throw new ArchiveError('bad-record', path, message)
  }
  yield* samplesCsv(readRecording(bytes, system, record.recording.name), system)
}

/** Opens the target only when there is output, so that a mistyped id leaves no empty file. */
function writeParts(out: string, all: Iterable<Uint8Array | string>): void {
  let file: number | null = null
  let waiting: Buffer[] = []
  let waitingBytes = 0
  const flush = (): void => {
    try {
      file ??= out === '-' ? 1 : openSync(out, 'w')
      const data = Buffer.concat(waiting)
      for (let done = 0; done < data.length; ) done += write(file, data.subarray(done))
    } catch (cause) {
      // The reader closed the pipe.
      if ((cause as NodeJS.ErrnoException).code === 'EPIPE') process.exit(0)
      throw diskError('write', out, cause)
    }
    waiting = []
    waitingBytes = 0
  }
  for (const part of all) {
    waiting.push(Buffer.from(part as string))
    waitingBytes += part.length
    if (waitingBytes > 1 << 20) flush()
  }
  flush()
  if (file !== null && file !== 1) closeSync(file)
}

/** A full pipe returns EAGAIN: retry after a pause. */
function write(file: number, data: Uint8Array): number {
  for (;;) {
    try {
      return writeSync(file, data)
    } catch (cause) {
      if ((cause as NodeJS.ErrnoException).code !== 'EAGAIN') throw cause
      Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0, 5)
    }
  }
}
