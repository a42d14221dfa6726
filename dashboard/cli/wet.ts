import { dirname, resolve } from 'node:path'
import type { Command } from 'commander'
import { wetStages } from '#analysis/fuel-work/wet-stages.ts'
import type { System } from '#analysis/model/system.ts'
import { archiveAction } from './archive-action.ts'
import {
  exitWith,
  headText,
  judgeSheet,
  readNamedFile,
  readSheetFile,
  recordingsBeside,
  sealIfAsked,
  systemAtHand,
  tableText,
  type WetOptions,
  wetCommand,
} from './wet-action.ts'

export function register(program: Command): void {
  wetCommand(program, {
    name: 'wet',
    about: 'the first fuel: print the checklist, or judge a stage from its sheet',
    argument: ['[sheet]', 'sheet of one stage (YAML); without it the checklist is printed'],
    operator: 'who looked',
    examples: [
      'wet --system recordings/wet/floatplane-wet.yaml',
      'wet recordings/wet/soak.yaml --system recordings/wet/floatplane-wet.yaml --seal',
    ],
  }).action((file: string | undefined, options: WetOptions) =>
    archiveAction(() => wet(file, options, program.version() ?? '')),
  )
}

function wet(file: string | undefined, options: WetOptions, version: string): void {
  const kept = systemAtHand(options.system)
  if (file === undefined) {
    process.stdout.write(options.json ? `${JSON.stringify(wetStages)}\n` : checklistText(kept.system))
    return
  }
  const sheet = readSheetFile(file)
  const { recording } = recordingsBeside(dirname(file), kept.system)
  const judged = judgeSheet('wet', sheet, kept.system, recording, { folder: options.data, version })
  const [{ result }] = judged
  const photos = (sheet as { readonly photos?: readonly string[] }).photos ?? []
  const pictures = photos.map((name) => readNamedFile(resolve(dirname(file), name)))
  const text =
    headText(result.verdict, `${result.stage}, ${result.sections.join(' + ')}`, result.reasons) +
    tableText([
      ['joint', 'after', 'finding', 'by', 'how', 'class', 'head psi'],
      ...result.looks.map((look) => [
        look.fitting,
        `${Math.round(look.after_s / 60)} min`,
        look.withdrawn === null ? look.finding : `${look.finding}, withdrawn`,
        look.by ?? '–',
        look.how || '–',
        look.class ?? '',
        look.head_Pa === null ? '' : (look.head_Pa / 6894.757293).toFixed(2),
      ]),
    ]) +
    `  Classes: ${result.scheme.name} (${result.scheme.source}): ${result.scheme.classes}\n`
  process.stdout.write(options.json ? `${JSON.stringify(result)}\n` : text)
  sealIfAsked('wet', judged, kept, options, version, { photos: pictures })
  exitWith([result.verdict])
}

/** The stages in order with room for ticks, and the fittings to look at. */
function checklistText(system: System): string {
  const stages = wetStages.map(
    ({ title, name, steps, soakS, looks, proves }, i) =>
      `${i + 1}. ${title} (${name})\n${steps.map(({ text, safety }, at) => `   [ ] ${at + 1}${safety ? ' safety' : ''}: ${text}\n`).join('')}   ${looks ? `last look after ${Math.round(soakS / 60)} min; ${proves ? 'dry is proof' : 'dry is permission to go on'}` : 'no joints are inspected'}\n`,
  )
  const fittings = system.sections.map(({ id }) => {
    const own = system.fittings.filter(({ section }) => section === id)
    return own.length === 0 ? '' : `  ${id}: ${own.map((f) => `${f.id} ${f.name}`).join(', ')}\n`
  })
  return `${stages.join('\n')}\nFittings to look at\n${fittings.join('')}\nThe kit or airframe maker’s instructions come first. No ignition source; bond tank and can; gloves and eye protection.\n`
}
