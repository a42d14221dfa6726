import { existsSync } from 'node:fs'
import { basename } from 'node:path'
import { writeFileDurably } from '#dashboard/archive/write-durably.ts'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'
import { withArchive } from './archive-action.ts'
import { type CommandDescription, dataOption, printResult } from './command.ts'
import { printable } from './printable.ts'
import { programVersion } from './program-version.ts'

interface ReportOptions {
  readonly out?: string
  readonly data?: string
  readonly dossier?: boolean
  readonly system?: string
  readonly force?: boolean
  readonly json?: boolean
}

export const command: CommandDescription = {
  alias: 'certify',
  arguments: [['[id]', 'record: 0007-left-feed-10psi, or just 7']],
  options: [
    ['--out <file>', 'where to write it; - is standard output (default: <id>.pdf)'],
    ['--force', 'overwrite the file if it exists'],
    ['--dossier', 'the whole system instead: ledger, every proof, what is open'],
    [
      '--system <name>',
      'with --dossier: the system, when the archive has several (default: of the newest record)',
    ],
    dataOption,
    ['--json', 'print what was written as JSON'],
  ],
  examples: ['report 7 --out left-feed.pdf', 'report --dossier --out logbook.pdf'],
  run: (id: string | undefined, options: ReportOptions) => {
    if (!id === !options.dossier)
      throw new UnreadableFile('report', null, 'name one record, or --dossier for the whole system')
    return withArchive(options.data, { readOnly: true }, async (archive) => {
      // The PDF library loads slowly and is needed only here.
      const { printDossier, printReport } = await import('#dashboard/archive/print.ts')
      const kept = id ? archive.keptRecord(id) : null
      const out = options.out ?? `${kept?.record.id ?? 'dossier'}.pdf`
      if (out !== '-' && !options.force && existsSync(out))
        throw new UnreadableFile(out, null, 'already exists; choose another name, or add --force')
      const system = { text: null, name: options.system ?? null }
      const pdf = kept
        ? await printReport(archive.folder, kept, programVersion)
        : await printDossier(archive.folder, archive.kept(), system, programVersion)
      writeOut(out, pdf, options, kept?.record.id ?? null)
    })
  },
}

function writeOut(out: string, pdf: Uint8Array, options: ReportOptions, record: string | null): void {
  if (out === '-') {
    process.stdout.write(pdf)
    return
  }
  writeFileDurably(out, pdf)
  printResult(options, { record, file: out, bytes: pdf.byteLength }, () => `${out}\n`)
  process.stderr.write(`check it anywhere with: stillhold verify ${printable(basename(out))}\n`)
}
