import { spawnSync } from 'node:child_process'
import { readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, it } from 'vitest'
import { budgetParts } from '#analysis/reasons/bench-words.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { printReport } from '#dashboard/archive/print.ts'
import { readRecordingFile } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { archiveIn, emptyFolder, holdDraft } from './bench-archive.ts'
import { demoRecordingPath, floatplaneText } from './sealed-hold.ts'

const hasReader = spawnSync('pdftotext', ['-v']).error === undefined
const holdNs = 1775896444000000000n
const heldNs = 300_000_000_000n
const ventNs = 1775897044000000000n

/** The demo retest, its vent moved to the middle of the hold. */
function endedEarly(reason: string): string {
  const lines = readFileSync(demoRecordingPath('lines-retest'), 'utf8').split('\n')
  return lines
    .flatMap((line) => {
      const [, head, time] = /^(.*) (\d{19})$/.exec(line) ?? []
      if (head === undefined) return [line]
      const ns = BigInt(time)
      if (ns >= holdNs + heldNs && ns < ventNs) return []
      const moved = ns < ventNs ? ns : ns - ventNs + holdNs + heldNs
      const told = head.replace('name="vent"', `name="vent",reason="${reason}"`)
      return [`${told} ${moved}`]
    })
    .join('\n')
}

it.skipIf(!hasReader)(
  `a report names the aircraft, the gauge, every mark, why it ended early and, on page 2, what makes its interval wide${hasReader ? '' : ': skipped, pdftotext is not here'}`,
  async () => {
    const systemText = floatplaneText
      .replace(/^name: .*$/m, '$&\naircraft: { registration: X-YZ, serial: "1042" }')
      .replace('- id: p-lines\n', '- id: p-lines\n    serial: G-771\n')
    const system = systemFromFile(systemText, 'floatplane.yaml')
    const folder = emptyFolder()
    const archive = archiveIn(folder)
    const path = join(emptyFolder(), 'early.lp')
    writeFileSync(path, endedEarly('the hangar closes at noon'))
    const [{ result }] = analyzeRecording(readRecordingFile(path, system), system)
    archive.seal(holdDraft(path, { systemText, systemName: system.name, result }))
    const pdf = join(folder, 'report.pdf')
    writeFileSync(pdf, await printReport(folder, archive.keptRecord('1'), '0'))
    const { stdout } = spawnSync('pdftotext', ['-layout', pdf, '-'], { encoding: 'utf8' })
    const [first, ...later] = stdout.split('\f')
    expect(first).toContain('registration X-YZ')
    expect(first).toContain('serial number 1042')
    expect(first).toContain(
      'It was held for 5 min of the prescribed 10 min. Reason given: the hangar closes at noon.',
    )
    const rest = later.join('\n')
    const [{ result: again }] = analyzeRecording(readRecordingFile(path, system), system, { budget: true })
    const { shares, improve } = budgetParts(again.budget!)
    expect(later[0]).toMatch(new RegExp(`What makes the interval wide\\s+${shares[0].words}`))
    for (const { words } of shares) expect(later[0]).toContain(words)
    expect(later[0].replaceAll(/\s+/g, ' ')).toContain(`Improve first: ${improve}.`)
    expect(rest).toMatch(/p-lines +G-771 +gauge pressure/)
    expect(rest).toMatch(/2026-04-11 08:30:09 +work +F12 +retighten, 13\.6 N·m/)
    expect(rest).toMatch(/2026-04-11 08:39:04 +stage +feed-lines-10psi +vent: the hangar closes at noon/)
  },
)
