import { existsSync } from 'node:fs'
import { basename } from 'node:path'
import type { Command } from 'commander'
import { ArchiveError } from '#dashboard/archive/archive-error.ts'
import { writeFileDurably } from '#dashboard/archive/write-durably.ts'
import { archiveAction, withArchive } from './archive-action.ts'
import { printable } from './printable.ts'

interface ReportOptions {
  readonly out?: string
  readonly data?: string
  readonly dossier?: boolean
  readonly system?: string
  readonly force?: boolean
  readonly json?: boolean
}

export function register(program: Command): void {
  program
    .command('report')
    .alias('certify')
    .description('write the test report of a record as a PDF that carries its own data')
    .argument('[id]', 'record: 0007-left-feed-10psi, or just 7')
    .option('--out <file>', 'where to write it; - is standard output (default: <id>.pdf)')
    .option('--force', 'overwrite the file if it exists')
    .option('--dossier', 'the whole system instead: ledger, every proof, what is open')
    .option(
      '--system <name>',
      'with --dossier: the system, when the archive has several (default: of the newest record)',
    )
    .option('--data <folder>', 'folder of the archive')
    .option('--json', 'print what was written as JSON')
    .addHelpText(
      'after',
      '\nExamples:\n  $ stillhold report 7 --out left-feed.pdf\n  $ stillhold report --dossier --out logbook.pdf',
    )
    .action((id: string | undefined, options: ReportOptions) =>
      archiveAction(async () => {
        if (!id === !options.dossier) {
          process.stderr.write('stillhold report: name one record, or --dossier for the whole system\n')
          process.exitCode = 2
          return
        }
        const programVersion = program.version() ?? ''
        await withArchive(options.data, { programVersion, readOnly: true }, async (archive) => {
          // The PDF library takes its time to load; only here is it needed.
          const { printDossier, printReport } = await import('#dashboard/archive/print.ts')
          if (id) {
            const kept = archive.keptRecord(id)
            const out = options.out ?? `${kept.record.id}.pdf`
            refuseExisting(out, options)
            writeOut(out, await printReport(archive.folder, kept, programVersion), options, kept.record.id)
          } else {
            const out = options.out ?? 'dossier.pdf'
            refuseExisting(out, options)
            const system = { text: null, name: options.system ?? null }
            const pdf = await printDossier(archive.folder, archive.kept(), system, programVersion)
            writeOut(out, pdf, options, null)
          }
        })
      }),
    )
}

function refuseExisting(out: string, { force }: ReportOptions): void {
  if (out === '-' || force || !existsSync(out)) return
  throw new ArchiveError('target-exists', out, `${out} already exists; choose another name, or add --force`)
}

function writeOut(out: string, pdf: Uint8Array, { json }: ReportOptions, record: string | null): void {
  if (out === '-') {
    process.stdout.write(pdf)
    return
  }
  writeFileDurably(out, pdf)
  process.stdout.write(
    json ? `${JSON.stringify({ record, file: out, bytes: pdf.byteLength })}\n` : `${out}\n`,
  )
  process.stderr.write(`check it anywhere with: stillhold verify ${printable(basename(out))}\n`)
}
