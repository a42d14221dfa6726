import { ArchiveError } from '#dashboard/archive/archive-error.ts'
import { archiveFolder } from '#dashboard/archive/archive-folder.ts'
import { headText, readHead } from '#dashboard/archive/chain-head.ts'
import { grouped } from '#dashboard/archive/page/figure-words.ts'
import { originWords } from '#dashboard/archive/record-words.ts'
import { beginChain, rebuildIndex } from '#dashboard/archive/renew-archive.ts'
import { sha256Hex } from '#dashboard/archive/write-durably.ts'
import { tellNotices, withArchive } from './archive-action.ts'
import {
  dataOption,
  defineCommand,
  jsonOption,
  type OptionsOf,
  printResult,
  programVersion,
} from './command.ts'
import { dataFolder } from './options.ts'
import { ProgressBar } from './terminal.ts'

const options = [dataOption, jsonOption] as const
type Options = OptionsOf<typeof options>

export const command = defineCommand({
  commands: {
    list: defineCommand({
      about: 'list the records, newest first',
      options,
      examples: ['archive list --json'],
      run: (given) =>
        withArchive(given.data, { readOnly: true }, (opened) => {
          const records = opened.list()
          if (records.length === 0)
            process.stderr.write(
              `no record in ${opened.folder} yet; a hold at the bench (serve) seals the first\n`,
            )
          for (const each of records)
            print(given, each, `${each.id}  ${each.sealed_at}  ${each.kind}  ${each.verdict ?? '–'}`)
        }),
    }),
    backup: defineCommand({
      about: 'copy the archive into a new folder, also while a hold is running',
      arguments: [['<folder>', 'new folder for the copy; it holds the private key too, so keep it safe']],
      options,
      examples: ['archive backup /media/stick/fuel'],
      run: (given, folder: string) =>
        withArchive(given.data, { readOnly: true }, (opened) => {
          const { records, files } = opened.backup(folder)
          const words = `${folder}: ${records} records, ${files} files copied and compared`
          print(given, { folder, records, files }, words)
        }),
    }),
    import: defineCommand({
      about: 'import the records of another machine beside the archive’s own',
      arguments: [['<folder>', 'archive or backup to import']],
      options,
      examples: ['archive import /media/stick/fuel'],
      run: (given, folder: string) =>
        withArchive(given.data, {}, (opened) => {
          const bar = new ProgressBar()
          try {
            const report = opened.import(folder, (share) => bar.at(`importing ${folder}`, share))
            bar.end()
            const lines = report.chains.map(
              ({ fingerprint, own, added, known }) =>
                `chain ${grouped(fingerprint, 4)}${own ? ' (own)' : ''}: ${added} records added, ${known} known already`,
            )
            print(given, report, lines.join('\n'))
          } finally {
            bar.end()
          }
        }),
    }),
    accept: defineCommand({
      about:
        'let the ledger count a hold whose readings were replayed or imported, or whose stages the logger marked',
      arguments: [['<id>', 'record: 0007-left-feed-10psi, or just 7']],
      options: [
        ...options,
        ['--operator <name>', 'who accepts it', { required: true }],
        ['--because <text>', 'why; it appears in the record and in the ledger', { required: true }],
      ],
      examples: ['archive accept 7 --operator "A. B." --because "recorded at the bench, logger file kept"'],
      run: accept,
    }),
    timestamp: defineCommand({
      about: 'have an authority of your choice sign the time at which these records existed (RFC 3161)',
      options: [...options, ['--url <url>', 'the authority; only a hash is sent to it', { required: true }]],
      examples: ['archive timestamp --url https://tsa.example/tsr'],
      run: timeStamp,
    }),
    rebuild: defineCommand({
      about: 'rebuild the index from the record files',
      options,
      examples: ['archive rebuild'],
      run: (given) => {
        const result = rebuildIndex(dataFolder(given.data), { programVersion })
        tellNotices(result.notices)
        print(given, result, `index rebuilt from ${result.records} records`)
      },
    }),
    key: defineCommand({
      about: 'show the public key that the records are signed with',
      options: [
        ...options,
        ['--pem', 'print the public key as PEM, to give to others'],
        ['--new', 'begin a new chain with a new key; the old chain stays beside it'],
      ],
      examples: ['archive key --pem > workshop-key.pem'],
      run: (given) => {
        const before = given.new ? beginChain(dataFolder(given.data), new Date()).before : null
        if (before)
          process.stderr.write(`the chain of key ${grouped(before, 4)} is kept beside the new one\n`)
        const key = withArchive(given.data, { readOnly: true }, (opened) => opened.publicKey())
        const words = `fingerprint  ${grouped(key.fingerprint, 4)}\npublic key   ${key.base64}`
        print(given, key, given.pem ? key.pem.trimEnd() : words)
      },
    }),
  },
})

function accept(given: Options & { operator: string; because: string }, id: string): void {
  withArchive(given.data, {}, (opened) => {
    const { record, recordText } = opened.keptRecord(id)
    if (record.kind !== 'hold')
      throw new ArchiveError('bad-record', id, `${record.id} is no hold: only a hold is accepted`)
    const sealed = opened.seal({
      kind: 'acceptance',
      recordingPath: null,
      systemText: record.system.text,
      systemName: record.system.name,
      result: {
        stillhold: 1,
        subject: record.id,
        record_sha256: sha256Hex(recordText),
        readings: originWords(record)?.text ?? 'none',
        because: given.because,
      },
      operator: given.operator,
    })
    print(given, { record: sealed.id, accepts: record.id }, `${sealed.id}: ${record.id} is accepted`)
  })
}

function timeStamp(given: Options & { url: string }): Promise<void> {
  return withArchive(given.data, { readOnly: true }, async ({ folder }) => {
    const paths = archiveFolder(folder)
    const head = headText(paths, '')
    const count = readHead(head ?? '')?.count ?? 0
    if (head === null || count === 0)
      throw new ArchiveError('not-found', folder, `${folder} has no counted record to stamp yet`)
    const { stampHead } = await import('#dashboard/archive/time-stamp.ts')
    const time = (await stampHead(paths, head, given.url)).time.toISOString()
    print(given, { records: count, time }, `records 1 to ${count} existed at ${time}`)
  })
}

function print(given: Options, value: unknown, words: string): void {
  printResult(given, value, () => `${words}\n`)
}
