import { dirname, resolve } from 'node:path'
import { wetStages } from '#analysis/fuel-work/wet-stages.ts'
import type { System } from '#analysis/model/system.ts'
import { printResult } from './command.ts'
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

export const command = wetCommand({
  argument: ['[sheet]', 'sheet of one stage (YAML); without it the checklist is printed'],
  operator: 'who looked',
  examples: [
    'wet --system recordings/wet/floatplane-wet.yaml',
    'wet recordings/wet/soak.yaml --system recordings/wet/floatplane-wet.yaml --seal',
  ],
  run: wet,
})

function wet(file: string | undefined, options: WetOptions): void {
  const kept = systemAtHand(options.system)
  if (file === undefined) {
    printResult(options, wetStages, () => checklistText(kept.system))
    return
  }
  const sheet = readSheetFile(file)
  const { recording } = recordingsBeside(dirname(file), kept.system)
  const judged = judgeSheet('wet', sheet, kept.system, recording, options.data)
  const [{ result }] = judged
  const photos = (sheet as { readonly photos?: readonly string[] }).photos ?? []
  const pictures = photos.map((name) => readNamedFile(resolve(dirname(file), name)))
  const text = () =>
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
  printResult(options, result, text)
  sealIfAsked('wet', judged, kept, options, { photos: pictures })
  exitWith([result.verdict])
}

/** The stages in order with checkboxes, and the fittings to inspect. */
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
