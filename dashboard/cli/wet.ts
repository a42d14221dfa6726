import { dirname, resolve } from 'node:path'
import { wetStages } from '#analysis/fuel-work/wet-stages.ts'
import type { System } from '#analysis/model/system.ts'
import { printResult } from './command.ts'
import {
  headText,
  readNamedFile,
  readSheetFile,
  recordingsBeside,
  tableText,
  type WetOptions,
  wetCommand,
} from './wet-action.ts'

export const command = wetCommand({
  kind: 'wet',
  argument: ['[sheet]', 'sheet of one stage (YAML); without it the checklist is printed'],
  operator: 'who looked',
  examples: [
    'wet --system recordings/wet/floatplane-wet.yaml',
    'wet recordings/wet/soak.yaml --system recordings/wet/floatplane-wet.yaml --seal',
  ],
  read(file: string, _: WetOptions, system: System) {
    const folder = dirname(file)
    const sheet = readSheetFile(file) as { readonly photos?: readonly string[] }
    const photos = (sheet.photos ?? []).map((name) => readNamedFile(resolve(folder, name)))
    return { sheet, recording: recordingsBeside(folder, system).recording, files: { photos } }
  },
  text: ({ verdict, stage, sections, reasons, looks, scheme }) =>
    headText(verdict, `${stage}, ${sections.join(' + ')}`, reasons) +
    tableText([
      ['joint', 'after', 'finding', 'by', 'how', 'class', 'head psi'],
      ...looks.map((look) => [
        look.fitting,
        `${Math.round(look.after_s / 60)} min`,
        look.withdrawn === null ? look.finding : `${look.finding}, withdrawn`,
        look.by ?? '–',
        look.how || '–',
        look.class ?? '',
        look.head_Pa === null ? '' : (look.head_Pa / 6894.757293).toFixed(2),
      ]),
    ]) +
    `  Classes: ${scheme.name} (${scheme.source}): ${scheme.classes}\n`,
  without: (system, options) => printResult(options, wetStages, () => checklistText(system)),
})

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
