import type { HoldResult } from '#analysis/model/hold-result.ts'
import type { Mark } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { percentOf, unitsOfSystem } from '#analysis/reasons/figures.ts'
import { textOf } from '../mark-words.ts'
import { originWords } from '../origin-words.ts'
import { drawChannels } from './channel-rows.ts'
import { drawDecayChart } from './decay-chart.ts'
import { drawFacts, drawTable, factsHeight } from './fact-table.ts'
import { figure, stated } from './figure-words.ts'
import { channelsOf, holdFacts, leakBar, leaksOf } from './hold-facts.ts'
import { drawIntervalBar } from './interval-bar.ts'
import {
  drawCautions,
  drawEvidence,
  drawHead,
  drawNames,
  drawVerdict,
  type ReportInput,
} from './report-parts.ts'
import { drawSections } from './section-drawing.ts'
import { contentWidth, ink, page, type Sheet } from './sheet.ts'
import { verdictSentence, verdictTitles } from './verdict-words.ts'

const mostFittingRows = 24
const mostMarkRows = 60

/** Draws the one or two pages of a pressure hold. */
export function drawHoldPages(sheet: Sheet, input: ReportInput): void {
  const { record, system, analysis } = input
  const result = record.result as HoldResult
  const accent = ink[result.verdict]
  const unit = unitsOfSystem(system, result.sections).pressure
  const hold = system?.holds.find((each) => each.id === result.hold) ?? null

  drawHead(sheet, 'Test report of a pressure hold', record.id)
  drawVerdict(sheet, verdictTitles[result.verdict], verdictSentence(result), accent)
  const about = [record.system.name, `sealed ${record.sealed_at.slice(0, 10)}`]
  const { registration = null, serial = null } = system?.aircraft ?? {}
  if (registration) about.splice(1, 0, `registration ${registration}`)
  if (serial) about.splice(registration ? 2 : 1, 0, `serial number ${serial}`)
  if (record.corrects) about.push(`corrects ${record.corrects}`)
  if (record.retests) about.push(`retest of ${record.retests}`)
  sheet.y =
    sheet.text(about.join('  ·  '), page.left, sheet.y, contentWidth, { size: 9, color: ink.soft }) + 8

  const origin = originWords(record)
  if (origin) {
    const style = origin.isMeasured
      ? ({ size: 9, color: ink.soft } as const)
      : ({ size: 10, face: 'medium', color: ink.fail } as const)
    sheet.y = sheet.text(`Readings: ${origin.text}`, page.left, sheet.y, contentWidth, style) + 8
  }

  for (const reason of result.reasons) {
    const style = { size: 9 } as const
    sheet.need(sheet.height(reason.message, contentWidth, style))
    sheet.y = sheet.text(reason.message, page.left, sheet.y, contentWidth, style) + 2
  }
  sheet.y += 10

  for (const leak of leaksOf(result)) {
    const bar = leakBar(leak, result, hold?.allow ?? null, unit)
    if (!(bar.allowance > 0)) continue
    sheet.need(80)
    sheet.y =
      sheet.text(barTitle(bar, result), page.left, sheet.y, contentWidth, { size: 8.5, color: ink.soft }) + 6
    drawIntervalBar(sheet, { ...bar, accent })
    sheet.y += 8
  }
  for (const curves of analysis?.curves ?? []) {
    if (curves.timeS.length < 2) continue
    sheet.need(200)
    const several = (analysis?.curves.length ?? 0) > 1
    sheet.heading(several ? `Pressure over the hold, ${curves.section}` : 'Pressure over the hold')
    drawDecayChart(
      sheet,
      {
        curves,
        allowanceDropPa: result.allowance.drop_Pa,
        seconds: hold?.holdS ?? result.seconds,
        pressureUnit: unit,
        accent,
      },
      several ? 150 : 196,
    )
    sheet.y += 4
  }
  if (system) {
    sheet.need(80)
    sheet.heading('What was under pressure')
    const suspects = new Map(result.fittings.map((fitting) => [fitting.id, fitting.leaking]))
    drawSections(sheet, { system, sections: result.sections, shut: hold?.shut ?? [], suspects, accent })
    sheet.y += 4
    drawFittingTable(sheet, system, result, accent)
  }
  const facts = holdFacts(result, hold, system, analysis, unit)
  sheet.need(factsHeight(sheet, facts) + 22)
  sheet.heading('The hold')
  drawFacts(sheet, facts)
  sheet.y += 6
  if (system) {
    sheet.need(60)
    sheet.heading('Instruments')
    drawChannels(sheet, channelsOf(system, result.sections))
    sheet.y += 6
  }
  drawMarks(sheet, input.marks)
  if (record.note || record.photos.length > 0) drawNotes(sheet, input)
  drawCautions(sheet)
  drawNames(sheet, input.record)
  drawEvidence(sheet, input)
}

function barTitle(
  bar: { value: number; low: number; high: number; unit: string; section: string },
  result: HoldResult,
): string {
  const where = result.sections.length > 1 ? ` of ${bar.section}` : ''
  const what = bar.unit.endsWith('/min') ? 'Leak' : 'Pressure lost by leakage alone'
  return (
    `${what}${where}: ${figure(bar.value)} ${bar.unit}, and with 95 % confidence between ` +
    `${figure(bar.low)} and ${figure(bar.high)} ${bar.unit}`
  )
}

function drawFittingTable(sheet: Sheet, system: System, result: HoldResult, accent: string): void {
  const fittings = system.fittings.filter((fitting) => result.sections.includes(fitting.section))
  if (fittings.length === 0) return
  const leaking = new Map(result.fittings.map((each) => [each.id, each.leaking]))
  sheet.need(Math.min(fittings.length, mostFittingRows + 1) * 12.6 + 40)
  sheet.heading('Fittings covered')
  drawTable(
    sheet,
    [
      { title: 'fitting', share: 0.8 },
      { title: 'name', share: 2.6 },
      { title: 'kind', share: 1.4 },
      { title: 'size', share: 1 },
      { title: 'torque', share: 1.3 },
      { title: 'leaks, by this hold', share: 1.4, align: 'right' },
    ],
    fittings.slice(0, mostFittingRows).map((fitting) => {
      const probability = leaking.get(fitting.id)
      const text = probability === undefined ? '–' : percentOf(probability)
      return [
        fitting.id,
        fitting.name,
        fitting.kind.replaceAll('-', ' '),
        fitting.size ?? '–',
        torqueWords(fitting.torqueNm),
        { text, color: probability !== undefined && probability > 0.5 ? accent : ink.text },
      ]
    }),
  )
  if (fittings.length > mostFittingRows) {
    const more = `and ${fittings.length - mostFittingRows} more: ${fittings
      .slice(mostFittingRows)
      .map((each) => each.id)
      .join(', ')}`
    sheet.y = sheet.text(more, page.left, sheet.y, contentWidth, { size: 8 })
  }
  sheet.y += 6
}

function torqueWords(torqueNm: readonly [number, number] | null): string {
  if (torqueNm === null) return '–'
  const [low, high] = torqueNm
  return low === high ? `${stated(low)} N·m` : `${stated(low)} to ${stated(high)} N·m`
}

/** What was marked, in the order of time; where readings come from stands on page 1. */
function drawMarks(sheet: Sheet, marks: readonly Mark[]): void {
  const told = marks.filter(({ kind }) => kind !== 'origin')
  if (told.length === 0) return
  sheet.need(60)
  sheet.heading('Marks')
  drawTable(
    sheet,
    [
      { title: 'time, UTC', share: 1.6 },
      { title: 'mark', share: 0.8 },
      { title: 'of', share: 1.3 },
      { title: 'says', share: 4 },
      { title: 'by', share: 0.8 },
    ],
    told.slice(0, mostMarkRows).map((mark) => {
      const { text, reason } = mark.fields
      const says = typeof text === 'string' ? text : textOf(mark)
      return [
        new Date(Number(BigInt(mark.timeNs) / 1_000_000n)).toISOString().slice(0, 19).replace('T', ' '),
        mark.kind,
        mark.id ?? mark.hold ?? '–',
        typeof reason === 'string' ? `${says}: ${reason}` : says,
        mark.from ?? '–',
      ]
    }),
  )
  if (told.length > mostMarkRows) {
    const more = `and ${told.length - mostMarkRows} more in the recording attached`
    sheet.y = sheet.text(more, page.left, sheet.y, contentWidth, { size: 8 })
  }
  sheet.y += 6
}

export function drawNotes(sheet: Sheet, input: ReportInput): void {
  sheet.need(50)
  sheet.heading('Notes and photos')
  const style = { size: 8.5 } as const
  if (input.record.note) sheet.y = sheet.text(input.record.note, page.left, sheet.y, contentWidth, style) + 3
  for (const photo of input.record.photos) {
    const text = `${photo.name}, SHA-256 ${photo.sha256.slice(0, 16)}…, kept in the archive`
    sheet.y = sheet.text(text, page.left, sheet.y, contentWidth, { size: 8, color: ink.soft })
  }
  sheet.y += 6
}
