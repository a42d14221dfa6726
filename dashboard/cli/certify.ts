import { basename } from 'node:path'
import type { Command } from 'commander'
import { openArchive } from '#dashboard/archive/archive.ts'
import { writeFileDurably } from '#dashboard/archive/write-durably.ts'
import { archiveAction, tellNotices } from './archive-action.ts'
import { dataFolder } from './data-folder.ts'

interface CertifyOptions {
  readonly out?: string
  readonly data?: string
  readonly dossier?: boolean
  readonly system?: string
  readonly json?: boolean
}

export function register(program: Command): void {
  program
    .command('certify')
    .description('write a certificate of a record as a PDF that carries its own data')
    .argument('[id]', 'record: 0007-left-feed-10psi, or just 7')
    .option('--out <file>', 'where to write it; - is standard output (default: <id>.pdf)')
    .option('--dossier', 'the whole system instead: ledger, every proof, what is open')
    .option(
      '--system <name>',
      'with --dossier: the system, when the archive has several (default: of the newest record)',
    )
    .option('--data <folder>', 'folder of the archive')
    .option('--json', 'print what was written as JSON')
    .addHelpText(
      'after',
      '\nExamples:\n  $ stillhold certify 7 --out left-feed.pdf\n  $ stillhold certify --dossier --out logbook.pdf',
    )
    .action((id: string | undefined, options: CertifyOptions) =>
      archiveAction(async () => {
        if (!id === !options.dossier) {
          process.stderr.write('stillhold certify: name one record, or --dossier for the whole system\n')
          process.exitCode = 2
          return
        }
        const programVersion = program.version() ?? ''
        const archive = openArchive(dataFolder(options.data), { programVersion, readOnly: true })
        try {
          tellNotices(archive.notices)
          // The PDF library takes its time to load; only here is it needed.
          if (id) {
            const { certify } = await import('#dashboard/archive/certify.ts')
            const record = archive.get(id).id
            writeOut(
              options.out ?? `${record}.pdf`,
              await certify(archive, id),
              options.json === true,
              record,
            )
          } else {
            const { writeDossier } = await import('#dashboard/archive/write-dossier.ts')
            const pdf = await writeDossier(archive, programVersion, options.system ?? null)
            writeOut(options.out ?? 'dossier.pdf', pdf, options.json === true, null)
          }
        } finally {
          archive.close()
        }
      }),
    )
}

function writeOut(out: string, pdf: Uint8Array, asJson: boolean, record: string | null): void {
  if (out === '-') {
    process.stdout.write(pdf)
    return
  }
  writeFileDurably(out, pdf)
  process.stdout.write(
    asJson ? `${JSON.stringify({ record, file: out, bytes: pdf.byteLength })}\n` : `${out}\n`,
  )
  process.stderr.write(`check it anywhere with: stillhold verify ${basename(out)}\n`)
}
