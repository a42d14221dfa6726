import { type HoldResult, leaksOf } from '#analysis/model/hold-result.ts'
import { isoTime, type Mark } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { percentOf, unitsOfSystem } from '#analysis/reasons/figures.ts'
import { textOf } from '../record-words.ts'
import { drawBudget, drawLeak } from './bars.ts'
import { drawChannels } from './channel-rows.ts'
import { drawDecayChart } from './charts.ts'
import { drawFacts, drawTable, factsHeight } from './fact-table.ts'
import { stated } from './figure-words.ts'
import { channelsOf, holdFacts, verdictSentence, verdictTitles } from './hold-facts.ts'
import {
  drawAbout,
  drawHead,
  drawLastPart,
  drawOrigin,
  drawVerdict,
  type ReportInput,
} from './report-parts.ts'
import { drawReasons } from './result-facts.ts'
import { drawSections } from './section-drawing.ts'
import { ink, type Sheet } from './sheet.ts'

const mostFittingRows = 24
const mostMarkRows = 60

/** Draws the one or two pages of a pressure hold. */
export function drawHoldPages(sheet: Sheet, input: ReportInput): void {
  const { record, system, analysis } = input
  const result = record.result as HoldResult
  const accent = ink[result.verdict]
  const units = unitsOfSystem(system, result.sections)
  const { pressure: unit } = units
  const hold = system?.holds.find((each) => each.id === result.hold) ?? null

  drawHead(sheet, 'Test report of a pressure hold', record.id)
  drawVerdict(sheet, verdictTitles[result.verdict], verdictSentence(result), accent)
  const { registration = null, serial = null } = system?.aircraft ?? {}
  drawAbout(sheet, record, 9, [
    record.system.name,
    registration && `registration ${registration}`,
    serial && `serial number ${serial}`,
    `sealed ${record.sealed_at.slice(0, 10)}`,
  ])
  drawOrigin(sheet, record, 9)
  drawReasons(sheet, { reasons: result.reasons })
  const one = { result, hold, unit, accent }
  for (const leak of leaksOf(result)) drawLeak(sheet, one, leak, true)
  const several = (analysis?.curves.length ?? 0) > 1
  for (const curves of analysis?.curves ?? []) {
    if (curves.timeS.length < 2) continue
    sheet.heading(several ? `Pressure over the hold, ${curves.section}` : 'Pressure over the hold', 200)
    drawDecayChart(sheet, one, curves, several ? 150 : 196)
    sheet.y += 4
  }
  if (system) {
    sheet.heading(result.sections.length > 1 ? 'Pressurized sections' : 'Pressurized section', 80)
    const suspects = new Map(result.fittings.map((fitting) => [fitting.id, fitting.leaking]))
    drawSections(sheet, { system, sections: result.sections, shut: hold?.shut ?? [], suspects, accent })
    sheet.y += 4
    drawFittingTable(sheet, system, result, accent)
  }
  const facts = holdFacts(result, hold, system, analysis, units)
  sheet.heading('The hold', factsHeight(sheet, facts) + 22)
  drawFacts(sheet, facts)
  sheet.y += 6
  const budget = analysis?.result.budget
  if (budget) drawBudget(sheet, budget)
  if (system) {
    sheet.heading('Instruments', 60)
    drawChannels(sheet, channelsOf(system, result.sections), 6)
  }
  drawMarks(sheet, input.marks)
  drawLastPart(sheet, input)
}

function drawFittingTable(sheet: Sheet, system: System, result: HoldResult, accent: string): void {
  const fittings = system.fittings.filter((fitting) => result.sections.includes(fitting.section))
  if (fittings.length === 0) return
  const leaking = new Map(result.fittings.map((each) => [each.id, each.leaking]))
  sheet.heading('Fittings covered', Math.min(fittings.length, mostFittingRows + 1) * 12.6 + 50)
  drawTable(
    sheet,
    { fitting: 0.8, name: 2.6, kind: 1.4, size: 1, torque: 1.3, 'leak probability': 1.4 },
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
    { right: 'leak probability' },
  )
  const more = fittings.slice(mostFittingRows).map(({ id }) => id)
  if (more.length > 0) sheet.paragraph(`and ${more.length} more: ${more.join(', ')}`, { size: 8 })
  sheet.y += 6
}

function torqueWords(torqueNm: readonly [number, number] | null): string {
  if (torqueNm === null) return '–'
  const [low, high] = torqueNm
  return low === high ? `${stated(low)} N·m` : `${stated(low)} to ${stated(high)} N·m`
}

/** The marks in time order; page 1 has the sources of the readings. */
function drawMarks(sheet: Sheet, marks: readonly Mark[]): void {
  const shown = marks.filter(({ kind }) => kind !== 'origin')
  if (shown.length === 0) return
  sheet.heading('Marks', 60)
  drawTable(
    sheet,
    { 'time, UTC': 1.6, mark: 0.8, part: 1.3, text: 4, by: 0.8 },
    shown.slice(0, mostMarkRows).map((mark) => {
      const { text, reason } = mark.fields
      const says = typeof text === 'string' ? text : textOf(mark)
      return [
        isoTime(mark.timeNs).slice(0, 19).replace('T', ' '),
        mark.kind,
        mark.id ?? mark.hold ?? '–',
        typeof reason === 'string' ? `${says}: ${reason}` : says,
        mark.from ?? '–',
      ]
    }),
  )
  if (shown.length > mostMarkRows)
    sheet.paragraph(`and ${shown.length - mostMarkRows} more in the recording attached`, { size: 8 })
  sheet.y += 6
}
