import type { Command } from 'commander'
import type { Archive } from '#dashboard/archive/archive.ts'
import { ArchiveError } from '#dashboard/archive/archive-error.ts'
import { archiveFolder } from '#dashboard/archive/archive-folder.ts'
import { beginChain } from '#dashboard/archive/begin-chain.ts'
import { headText, readHead } from '#dashboard/archive/chain-head.ts'
import { originWords } from '#dashboard/archive/origin-words.ts'
import { grouped } from '#dashboard/archive/page/figure-words.ts'
import { rebuildIndex } from '#dashboard/archive/rebuild-index.ts'
import { sha256Hex } from '#dashboard/archive/write-durably.ts'
import { archiveAction, tellNotices, withArchive } from './archive-action.ts'
import { dataFolder } from './data-folder.ts'
import { ProgressBar } from './progress-bar.ts'

interface Options {
  readonly data?: string
  readonly json?: boolean
  readonly new?: boolean
  readonly pem?: boolean
}

export function register(program: Command): void {
  const archive = program.command('archive').description('look after the archive of sealed records')
  const programVersion = (): string => program.version() ?? ''
  const onArchive = (options: Options, readOnly: boolean, work: (opened: Archive) => void | Promise<void>) =>
    archiveAction(() => withArchive(options.data, { programVersion: programVersion(), readOnly }, work))
  const command = (name: string, description: string, example: string): Command =>
    archive
      .command(name)
      .description(description)
      .option('--data <folder>', 'folder of the archive')
      .option('--json', 'print the result as JSON')
      .addHelpText('after', `\nExample:\n  $ stillhold archive ${example}`)

  command('list', 'list the records, newest first', 'list --json').action((options: Options) =>
    onArchive(options, true, (opened) => {
      const records = opened.list()
      if (records.length === 0)
        process.stderr.write(
          `no record in ${opened.folder} yet; a hold at the bench (serve) seals the first\n`,
        )
      for (const each of records) {
        const words = `${each.id}  ${each.sealed_at}  ${each.kind}  ${each.verdict ?? '–'}`
        print(options, each, words)
      }
    }),
  )

  command(
    'backup',
    'copy the archive into a new folder, also while a hold is running',
    'backup /media/stick/fuel',
  )
    .argument('<folder>', 'new folder for the copy; it holds the private key too, so keep it safe')
    .action((folder: string, options: Options) =>
      onArchive(options, true, (opened) => {
        const { records, files } = opened.backup(folder)
        print(
          options,
          { folder, records, files },
          `${folder}: ${records} records, ${files} files copied and compared`,
        )
      }),
    )

  command('import', 'bring the records of another machine beside the own ones', 'import /media/stick/fuel')
    .argument('<folder>', 'archive or backup to import')
    .action((folder: string, options: Options) =>
      onArchive(options, false, (opened) => {
        const bar = new ProgressBar()
        try {
          const report = opened.import(folder, (share) => bar.at(`importing ${folder}`, share))
          bar.end()
          const lines = report.chains.map(
            ({ fingerprint, own, added, known }) =>
              `chain ${grouped(fingerprint, 4)}${own ? ' (own)' : ''}: ${added} records added, ${known} known already`,
          )
          print(options, report, lines.join('\n'))
        } finally {
          bar.end()
        }
      }),
    )

  command(
    'accept',
    'let the ledger count a hold whose readings were replayed or imported, or whose stages the logger marked',
    'accept 7 --operator "A. B." --because "recorded at the bench, logger file kept"',
  )
    .argument('<id>', 'record: 0007-left-feed-10psi, or just 7')
    .requiredOption('--operator <name>', 'who accepts it')
    .requiredOption('--because <text>', 'why; it stands in the record and in the ledger')
    .action((id: string, options: Options & { operator: string; because: string }) =>
      onArchive(options, false, (opened) => {
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
            because: options.because,
          },
          operator: options.operator,
          witness: null,
          photos: [],
          note: null,
          corrects: null,
          retests: null,
        })
        print(options, { record: sealed.id, accepts: record.id }, `${sealed.id}: ${record.id} is accepted`)
      }),
    )

  command(
    'timestamp',
    'have an authority of your choice sign the time at which these records existed (RFC 3161)',
    'timestamp --url https://tsa.example/tsr',
  )
    .requiredOption('--url <url>', 'the authority; only a hash is sent to it')
    .action((options: Options & { url: string }) =>
      onArchive(options, true, async (opened) => {
        const paths = archiveFolder(opened.folder)
        const head = headText(paths, '')
        const count = readHead(head ?? '')?.count ?? 0
        if (head === null || count === 0)
          throw new ArchiveError(
            'not-found',
            opened.folder,
            `${opened.folder} has no counted record to stamp yet`,
          )
        const { stampHead } = await import('#dashboard/archive/time-stamp.ts')
        const time = (await stampHead(paths, head, options.url)).time.toISOString()
        print(options, { records: count, time }, `records 1 to ${count} existed at ${time}`)
      }),
    )

  command('rebuild', 'make the index anew from the record files', 'rebuild').action((options: Options) =>
    archiveAction(() => {
      const result = rebuildIndex(dataFolder(options.data), { programVersion: programVersion() })
      tellNotices(result.notices)
      print(options, result, `index made anew from ${result.records} records`)
    }),
  )

  command('key', 'show the public key that the records are signed with', 'key --pem > workshop-key.pem')
    .option('--pem', 'print the public key as PEM, to give to others')
    .option('--new', 'begin a new chain with a new key; the old chain stays beside it')
    .action((options: Options) =>
      archiveAction(() => {
        if (options.new) {
          const { before } = beginChain(dataFolder(options.data), new Date())
          if (before)
            process.stderr.write(`the chain of key ${grouped(before, 4)} now stands beside the new one\n`)
        }
        const key = withArchive(
          options.data,
          { programVersion: programVersion(), readOnly: true },
          (opened) => opened.publicKey(),
        )
        const words = options.pem
          ? key.pem.trimEnd()
          : `fingerprint  ${grouped(key.fingerprint, 4)}\npublic key   ${key.base64}`
        print(options, key, words)
      }),
    )
}

function print(options: Options, value: unknown, words: string): void {
  process.stdout.write(`${options.json ? JSON.stringify(value) : words}\n`)
}
