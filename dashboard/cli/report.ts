import { basename } from 'node:path'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'
import { withArchive } from './archive-action.ts'
import { dataOption, defineCommand, jsonOption, printResult, programVersion } from './command.ts'
import { refuseExisting, writeOut } from './options.ts'
import { printable } from './terminal.ts'

export const command = defineCommand({
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
    jsonOption,
  ],
  examples: ['report 7 --out left-feed.pdf', 'report --dossier --out logbook.pdf'],
  run: (options, id: string | undefined) => {
    if (!id === !options.dossier)
      throw new UnreadableFile('report', null, 'name one record, or --dossier for the whole system')
    return withArchive(options.data, { readOnly: true }, async (archive) => {
      // The PDF library loads slowly and is needed only here.
      const { printDossier, printReport } = await import('#dashboard/archive/print.ts')
      const kept = id ? archive.keptRecord(id) : null
      const out = options.out ?? `${kept?.record.id ?? 'dossier'}.pdf`
      refuseExisting(out, options.force)
      const system = { text: null, name: options.system ?? null }
      const pdf = kept
        ? await printReport(archive.folder, kept, programVersion)
        : await printDossier(archive.folder, archive.kept(), system, programVersion)
      writeOut(out, pdf)
      if (out === '-') return
      const written = { record: kept?.record.id ?? null, file: out, bytes: pdf.byteLength }
      printResult(options, written, () => `${out}\n`)
      process.stderr.write(`check it anywhere with: stillhold verify ${printable(basename(out))}\n`)
    })
  },
})
