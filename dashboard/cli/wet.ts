import { dirname, resolve } from 'node:path'
import type { Command } from 'commander'
import type { System } from '#analysis/model/system.ts'
import { judgeWetStage } from '#analysis/wet/judge-wet-stage.ts'
import { wetStages } from '#analysis/wet/wet-stages.ts'
import { recordVerdict } from '#dashboard/archive/record-summary.ts'
import { sealWetWork } from '#dashboard/server/seal-wet-work.ts'
import { readWetSheet } from '#dashboard/server/wet-sheets.ts'
import {
  exitWith,
  headText,
  readNamedFile,
  readSheetFile,
  systemAtHand,
  tableText,
  type WetOptions,
  wetAction,
  withArchive,
} from './wet-action.ts'

export function register(program: Command): void {
  program
    .command('wet')
    .description('the first fuel: print the checklist, or judge a stage from its sheet')
    .argument('[sheet]', 'sheet of one stage (YAML); without it the checklist is printed')
    .requiredOption('--system <file>', 'system file of the aircraft')
    .option('--seal', 'seal the result into the archive')
    .option('--data <folder>', 'folder of the archive')
    .option('--operator <name>', 'who looked')
    .option('--witness <name>', 'who watched')
    .option('--json', 'print the result as one JSON object')
    .addHelpText(
      'after',
      '\nExamples:\n  $ stillhold wet --system recordings/wet/floatplane-wet.yaml\n  $ stillhold wet recordings/wet/soak.yaml --system recordings/wet/floatplane-wet.yaml --seal',
    )
    .action((file: string | undefined, options: WetOptions) =>
      wetAction(() => wet(file, options, program.version() ?? '')),
    )
}

function wet(file: string | undefined, options: WetOptions, version: string): void {
  const { system, ...kept } = systemAtHand(options.system)
  if (file === undefined) {
    process.stdout.write(options.json ? `${JSON.stringify(wetStages)}\n` : checklistText(system))
    return
  }
  const sheet = readWetSheet(readSheetFile(file), system, (id) =>
    withArchive(options.data, version, true, (archive) => {
      const found = archive.evidence().find((record) => record.id === id && record.kind === 'hold')
      return found ? recordVerdict(found) : null
    }),
  )
  const photos = sheet.photos.map((name) => readNamedFile(resolve(dirname(file), name)))
  const result = judgeWetStage(sheet, system)
  const text =
    headText(result.verdict, `${result.stage}, ${result.sections.join(' + ')}`, result.reasons) +
    tableText([
      ['fitting', 'after', 'finding', 'class', 'head psi'],
      ...result.looks.map((look) => [
        look.fitting,
        `${Math.round(look.after_s / 60)} min`,
        look.finding,
        look.class ?? '',
        look.head_Pa === null ? '' : (look.head_Pa / 6894.757293).toFixed(2),
      ]),
    ]) +
    `  Classes: ${result.scheme.name} (${result.scheme.source}): ${result.scheme.classes}\n`
  process.stdout.write(options.json ? `${JSON.stringify(result)}\n` : text)
  if (options.seal) {
    const record = withArchive(options.data, version, false, (archive) =>
      sealWetWork(archive, 'wet', result, kept, { ...options, photos }),
    )
    process.stderr.write(`Sealed as ${record.id}.\n`)
  }
  exitWith([result.verdict])
}

/** The stages in order with room for ticks, and the fittings to look at. */
function checklistText(system: System): string {
  const stages = wetStages.map(
    ({ title, name, steps, soakS, proves }, i) =>
      `${i + 1}. ${title} (${name})\n${steps.map((step) => `   [ ] ${step}\n`).join('')}   last look after ${Math.round(soakS / 60)} min; ${proves ? 'dry is proof' : 'dry is leave to go on'}\n`,
  )
  const fittings = system.sections.map(({ id }) => {
    const own = system.fittings.filter(({ section }) => section === id)
    return own.length === 0 ? '' : `  ${id}: ${own.map((f) => `${f.id} ${f.name}`).join(', ')}\n`
  })
  return `${stages.join('\n')}\nFittings to look at\n${fittings.join('')}\nThe kit or airframe maker’s instructions come first. No ignition source; bond tank and can; gloves and eye protection.\n`
}
