import { unitsOfSystem } from '#analysis/reasons/figures.ts'
import type { RecordKind } from '../record.ts'
import { recordSubject, recordVerdict } from '../record-summary.ts'
import { drawAbout, drawHead, drawLastPart, drawVerdict, type ReportInput } from './report-parts.ts'
import { drawReasons, drawResult } from './result-facts.ts'
import { ink, type Sheet } from './sheet.ts'
import { verdictTitles } from './verdict-words.ts'

export const kindTitles: Readonly<Record<RecordKind, string>> = {
  hold: 'Pressure hold',
  wet: 'Fuelling check',
  level: 'Level sender calibration',
  flow: 'Fuel flow check',
  work: 'Work on a fitting',
  look: 'Look at a fitting',
  plug: 'Plug or cap',
  correction: 'Correction',
  acceptance: 'Acceptance of a record',
}

/** Draws the page of evidence other than a pressure hold, with a layout derived from its result. */
export function drawOtherPages(sheet: Sheet, input: ReportInput): void {
  const { record } = input
  const verdict = recordVerdict(record)
  const title = kindTitles[record.kind]
  drawHead(sheet, record.kind === 'correction' ? title : `Test report: ${title.toLowerCase()}`, record.id)
  if (verdict) drawVerdict(sheet, verdictTitles[verdict], `${title}: ${recordSubject(record)}`, ink[verdict])
  else drawVerdict(sheet, title, recordSubject(record), ink.text)
  drawAbout(sheet, record, 9, [record.system.name, `sealed ${record.sealed_at.slice(0, 10)}`])
  drawReasons(sheet, record.result as Readonly<Record<string, unknown>>)
  sheet.heading('Findings')
  drawResult(sheet, record.result as Readonly<Record<string, unknown>>, unitsOfSystem(input.system).pressure)
  sheet.y += 8
  drawLastPart(sheet, input)
}
