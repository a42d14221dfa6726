import type { Campaign } from '#analysis/model/campaign.ts'
import { campaign } from '#analysis/plan/campaign.ts'
import { setUpWords, shortestWords } from '#analysis/reasons/bench-words.ts'
import { duration, figuresIn } from '#analysis/reasons/figures.ts'
import { type ArchiveKnows, readArchive } from './archive-action.ts'
import { dataOption, defineCommand, jsonOption, printResult, programVersion } from './command.ts'
import { systemOptions, writeOut } from './options.ts'
import { resultInk as colors, resultText } from './terminal.ts'

export const command = defineCommand({
  options: [
    ...systemOptions,
    dataOption,
    ['--pdf <file>', 'write it as a sheet for the wall, with boxes to tick; - is standard output'],
    jsonOption,
  ],
  examples: ['campaign --system floatplane.yaml --pdf wall.pdf'],
  run: async (options) => {
    const known = readArchive(options, options.data === undefined)
    const now = new Date()
    const nowNs = BigInt(now.getTime()) * 1_000_000n
    const result = campaign(known.system, known.evidence, { nowNs, withPlans: true })
    if (options.pdf !== undefined) {
      // The PDF library loads slowly and is needed only here.
      const { renderCampaignSheet } = await import('#dashboard/archive/page/campaign-sheet.ts')
      const words = (sections: readonly string[]) => figuresIn(known.units(sections))
      const pdf = await renderCampaignSheet(result, words, now, programVersion)
      writeOut(options.pdf, pdf)
      if (options.pdf === '-') return
    }
    printResult(options, result, () => campaignText(result, known))
  },
})

function campaignText(c: Campaign, { units }: ArchiveKnows): string {
  const lines = [colors.bold(`${c.system}: ${c.message}`), `${c.proven} of ${c.total} fittings are proven.`]
  if (c.steps.length > 0) lines.push(shortestWords(c), '')
  for (const { record, proves } of c.done) lines.push(`  ☑ ${record}: ${proves.join(', ')}`)
  for (const step of c.steps) {
    lines.push(`  ☐ ${step.title}, ${duration(60 * step.minutes)}`)
    lines.push(`    ${setUpWords(step, figuresIn(units(step.sections)).pressure)}`)
    if (step.proves.length > 0) lines.push(`    Proves ${step.proves.join(', ')}.`)
    for (const caution of step.cautions) lines.push(`    Note: ${caution}`)
  }
  for (const { id, why } of c.uncoverable) lines.push(`Cannot be covered: ${id}. ${why}`)
  return resultText(lines)
}
