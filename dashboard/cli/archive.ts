import type { Command } from 'commander'
import { openArchive } from '#dashboard/archive/archive.ts'
import { beginChain } from '#dashboard/archive/begin-chain.ts'
import { grouped } from '#dashboard/archive/page/figure-words.ts'
import { rebuildIndex } from '#dashboard/archive/rebuild-index.ts'
import { archiveAction, tellNotices } from './archive-action.ts'
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
  const open = (options: Options, readOnly: boolean) => {
    const opened = openArchive(dataFolder(options.data), { programVersion: programVersion(), readOnly })
    tellNotices(opened.notices)
    return opened
  }
  const command = (name: string, description: string, example: string): Command =>
    archive
      .command(name)
      .description(description)
      .option('--data <folder>', 'folder of the archive')
      .option('--json', 'print the result as JSON')
      .addHelpText('after', `\nExample:\n  $ stillhold archive ${example}`)

  command('list', 'list the records, newest first', 'list --json').action((options: Options) =>
    archiveAction(() => {
      const opened = open(options, true)
      try {
        const records = opened.list()
        if (records.length === 0)
          process.stderr.write(
            `no record in ${opened.folder} yet; a hold at the bench (serve) seals the first\n`,
          )
        for (const each of records) {
          const words = `${each.id}  ${each.sealed_at}  ${each.kind}  ${each.verdict ?? '–'}`
          print(options, each, words)
        }
      } finally {
        opened.close()
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
      archiveAction(() => {
        const opened = open(options, true)
        try {
          const { records, files } = opened.backup(folder)
          print(
            options,
            { folder, records, files },
            `${folder}: ${records} records, ${files} files copied and compared`,
          )
        } finally {
          opened.close()
        }
      }),
    )

  command('import', 'bring the records of another machine beside the own ones', 'import /media/stick/fuel')
    .argument('<folder>', 'archive or backup to import')
    .action((folder: string, options: Options) =>
      archiveAction(() => {
        const opened = open(options, false)
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
          opened.close()
        }
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
        const opened = open(options, true)
        try {
          const key = opened.publicKey()
          const words = options.pem
            ? key.pem.trimEnd()
            : `fingerprint  ${grouped(key.fingerprint, 4)}\npublic key   ${key.base64}`
          print(options, key, words)
        } finally {
          opened.close()
        }
      }),
    )
}

function print(options: Options, value: unknown, words: string): void {
  process.stdout.write(`${options.json ? JSON.stringify(value) : words}\n`)
}
