import { type Ledger, type LedgerFitting, ledger } from '#analysis/hunt/ledger.ts'
import type { ProofState } from '#analysis/hunt/proof-of-fittings.ts'
import { readArchive } from './archive-action.ts'
import { dataOption, defineCommand, jsonOption, printResult } from './command.ts'
import { resultInk as colors, resultText } from './terminal.ts'

export const command = defineCommand({
  options: [
    dataOption,
    ['--system <file>', 'present system file (default: that of the newest record)'],
    jsonOption,
  ],
  examples: ['ledger --data ./archive --system floatplane.yaml'],
  run: (options) => {
    const { system, evidence } = readArchive(options)
    const result = ledger(system, evidence)
    printResult(options, result, () => ledgerText(result))
    for (const error of result.errors) process.stderr.write(`stillhold: ${error}\n`)
    if (result.errors.length > 0) process.exitCode = 2
  },
})

const words: Readonly<Record<ProofState, string>> = {
  proven: '● proven',
  stale: '◐ stale',
  failed: '✕ failed',
  'never-held': '○ never held',
}

/** The overall state, then open items, then each fitting. */
function ledgerText(l: Ledger): string {
  const lines = [colors.bold(`${l.system}: ${l.message}`)]
  if (l.open.length > 0) lines.push('', 'Open:', ...l.open.map((o) => `  - ${o}`))
  if (l.holds_to_do.length > 0) {
    lines.push(
      '',
      l.holds_to_do_exact ? 'Holds that close it soonest:' : 'Holds that close it (perhaps not the soonest):',
    )
    for (const h of l.holds_to_do) {
      const shut = h.shut.length > 0 ? `, ${h.shut.join(', ')} shut` : ''
      lines.push(
        `  - ${h.hold ?? h.sections.join(' + ')}${shut}: ${h.proves.length} fittings, ${Math.round(h.minutes)} min`,
      )
    }
  }
  const ofRig = l.fittings.filter((f) => f.rig)
  lines.push('', 'Fittings:', ...l.fittings.filter((f) => !f.rig).map(fittingLine))
  if (ofRig.length > 0) lines.push('', 'Of the test rig, not counted:', ...ofRig.map(fittingLine))
  for (const caution of l.cautions) lines.push(`Note: ${caution}`)
  return resultText(lines)
}

function fittingLine(f: LedgerFitting): string {
  const wet = f.wet ? `, wet: ${words[f.wet.state].slice(2)}` : ''
  const where = `${f.section}${f.name ? `, ${f.name}` : ''}`
  return `  ${f.id.padEnd(6)} ${words[f.proof.state].padEnd(13)}${f.proof.record ?? ''}${wet}  ${where}`
}
