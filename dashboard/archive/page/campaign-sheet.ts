import type { Campaign } from '#analysis/model/campaign.ts'
import { setUpWords, shortestWords } from '#analysis/reasons/bench-words.ts'
import { duration, type FigureWords } from '#analysis/reasons/figures.ts'
import { utcMinute } from './figure-words.ts'
import { drawCautions, drawHead } from './report-parts.ts'
import { contentWidth, ink, page, Sheet } from './sheet.ts'

const box = 12
const left = page.left + 24
const textWidth = contentWidth - 24

/** The campaign as a sheet for the wall: a box to tick for each set-up, and for each plug one for in and one for out. */
export async function renderCampaignSheet(
  campaign: Campaign,
  words: (sections: readonly string[]) => FigureWords,
  date: Date,
  writer: string,
): Promise<Uint8Array> {
  const made = utcMinute(date.toISOString())
  const sheet = new Sheet({
    title: `Campaign of ${campaign.system}`,
    subject: 'Set-ups that close the ledger',
    date,
    creator: `stillhold ${writer}`,
    writer,
    foot: `${campaign.system} · planned ${made} · plan again after each result: stillhold campaign`,
  })
  drawHead(sheet, 'Campaign', campaign.system)
  sheet.paragraph(campaign.message, { size: 14, lineGap: 2 }, 4)
  const state = `${campaign.proven} of ${campaign.total} fittings are proven. ${campaign.steps.length > 0 ? shortestWords(campaign) : ''}`
  sheet.paragraph(state, { color: ink.soft }, 14)
  for (const { record, proves } of campaign.done)
    drawStep(sheet, { title: record, right: 'done', lines: [`Proves ${proves.join(', ')}.`], ticked: true })
  for (const step of campaign.steps)
    drawStep(sheet, {
      title: step.title,
      right: duration(60 * step.minutes),
      lines: [
        setUpWords(step, words(step.sections).pressure),
        ...(step.proves.length > 0 ? [`Proves ${step.proves.join(', ')}.`] : []),
        ...step.cautions,
      ],
      ticked: false,
    })
  drawPlugs(sheet, campaign)
  for (const { id, why } of campaign.uncoverable)
    sheet.paragraph(`${id} cannot be covered. ${why}`, { color: ink.fail }, 3)
  sheet.y += 8
  drawCautions(sheet)
  return sheet.finish()
}

interface Drawn {
  readonly title: string
  readonly right: string
  readonly lines: readonly string[]
  readonly ticked: boolean
}

function drawStep(sheet: Sheet, { title, right, lines, ticked }: Drawn): void {
  const style = { size: 9.5, color: ticked ? ink.soft : ink.text } as const
  sheet.need(18 + lines.reduce((sum, line) => sum + sheet.height(line, textWidth, style), 0) + 30)
  drawBox(sheet, page.left, sheet.y + 1, ticked)
  sheet.line(title, left, sheet.y, { ...style, size: 12, face: 'medium' })
  sheet.line(right, page.right, sheet.y, { size: 11, color: ink.soft, align: 'right' })
  sheet.y += 17
  for (const line of lines) sheet.y = sheet.text(line, left, sheet.y, textWidth, style)
  if (!ticked) {
    sheet.y += 14
    const half = textWidth / 2
    for (const [i, label] of ['record', 'name and time'].entries()) {
      sheet.line(label, left + i * half, sheet.y, { size: 7.5, color: ink.soft })
      const from = left + i * half + 54
      sheet.stroke(0.5, ink.soft, from, sheet.y + 9, left + (i + 1) * half - 14, sheet.y + 9)
    }
  }
  sheet.y += ticked ? 8 : 20
}

/** Plugs and caps are counted in and out. */
function drawPlugs(sheet: Sheet, { steps, plugs_in: now }: Campaign): void {
  const plugs = steps.find(({ kind }) => kind === 'plugs-out')?.plugs ?? []
  if (plugs.length === 0) return
  sheet.heading(`Plugs and caps: ${plugs.length} in, ${plugs.length} out`, 30 + plugs.length * 18)
  for (const id of plugs) {
    sheet.line(id, page.left, sheet.y, { size: 11, face: 'medium' })
    for (const [i, word] of ['in', 'out'].entries()) {
      const x = left + 80 + i * 90
      drawBox(sheet, x, sheet.y, word === 'in' && now.includes(id))
      sheet.line(word, x + box + 6, sheet.y, { size: 10 })
    }
    sheet.y += 18
  }
  sheet.y += 6
}

function drawBox(sheet: Sheet, x: number, y: number, ticked: boolean): void {
  sheet.doc.lineWidth(0.9).strokeColor(ink.text).rect(x, y, box, box).stroke()
  if (ticked)
    sheet.doc
      .lineWidth(1.4)
      .moveTo(x + 2.5, y + 6)
      .lineTo(x + 5, y + 9)
      .lineTo(x + 9.5, y + 3)
      .stroke()
}
