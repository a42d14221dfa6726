import type { Ledger, Proof, ProofState } from '#analysis/model/ledger.ts'
import type { SealedRecord } from '../record.ts'
import { type Cell, drawTable } from './fact-table.ts'
import { drawCautions, drawHead, drawVerdict } from './report-parts.ts'
import { contentWidth, ink, page, type Sheet } from './sheet.ts'

const words: Readonly<Record<ProofState, string>> = {
  proven: 'proven',
  stale: 'stale',
  failed: 'failed',
  'never-held': 'never held',
}

const colors: Readonly<Record<ProofState, string>> = {
  proven: ink.pass,
  stale: ink.undecided,
  failed: ink.fail,
  'never-held': ink.void,
}

/** First pages of a dossier: is the system proven, what is open, and the state of every fitting. */
export function drawLedgerPages(sheet: Sheet, ledger: Ledger, records: readonly SealedRecord[]): void {
  drawHead(sheet, 'Dossier of a fuel system', ledger.system)
  const accent = ledger.complete ? ink.pass : ledger.counts.failed > 0 ? ink.fail : ink.undecided
  drawVerdict(sheet, ledger.complete ? 'Proven' : 'Open', ledger.message, accent)
  const first = records[0]?.sealed_at.slice(0, 10)
  const last = records.at(-1)?.sealed_at.slice(0, 10)
  const about = first ? `${records.length} sealed records, ${first} to ${last}` : 'no sealed record yet'
  sheet.y = sheet.text(about, page.left, sheet.y, contentWidth, { size: 9, color: ink.soft }) + 12
  drawCounts(sheet, ledger)

  if (ledger.open.length > 0) {
    sheet.need(60)
    sheet.heading('What is open')
    drawList(sheet, ledger.open)
  }
  if (ledger.holds_to_do.length > 0) {
    sheet.need(70)
    const exact = ledger.holds_to_do_exact ? 'the holds that close it soonest' : 'holds that close it'
    sheet.heading(`To do: ${exact}`)
    drawTable(
      sheet,
      [
        { title: 'hold', share: 1.6 },
        { title: 'sections', share: 1.8 },
        { title: 'shut', share: 1.2 },
        { title: 'proves', share: 3 },
        { title: 'minutes', share: 0.7, align: 'right' },
      ],
      ledger.holds_to_do.map((hold) => [
        hold.hold ?? 'not in the file',
        hold.sections.join(', '),
        hold.shut.join(', ') || 'none',
        hold.proves.join(', '),
        String(Math.round(hold.minutes)),
      ]),
    )
    sheet.y += 8
  }
  if (ledger.plugs_in.length > 0) {
    sheet.need(50)
    sheet.heading('Plugs and caps not yet marked out')
    drawList(
      sheet,
      ledger.plugs_in.map((plug) => `${plug.id}, in since ${dayOf(plug.since_ns)}`),
    )
  }
  sheet.need(80)
  sheet.heading('Fittings')
  drawTable(
    sheet,
    [
      { title: 'fitting', share: 0.8 },
      { title: 'name', share: 2 },
      { title: 'section', share: 1.4 },
      { title: 'dry proof', share: 1 },
      { title: 'by record', share: 1.9 },
      { title: 'wet proof', share: 1 },
      { title: 'last work', share: 1.9 },
    ],
    ledger.fittings.map((fitting) => [
      fitting.id,
      fitting.name,
      fitting.section,
      stateCell(fitting.proof),
      fitting.proof.record ?? '–',
      fitting.wet ? stateCell(fitting.wet) : '–',
      fitting.last_work ? `${fitting.last_work.action} ${dayOf(fitting.last_work.time_ns)}` : '–',
    ]),
  )
  sheet.y += 8
  const remarks = [...ledger.uncoverable.map((each) => `${each.id}: ${each.why}`), ...ledger.cautions]
  if (remarks.length > 0) {
    sheet.need(50)
    sheet.heading('To know')
    drawList(sheet, remarks)
  }
  drawCautions(sheet)
}

/** How many fittings stand in which state, as a bar parted in shares with the words under it. */
function drawCounts(sheet: Sheet, ledger: Ledger): void {
  const states = (['proven', 'stale', 'failed', 'never-held'] as const).filter(
    (state) => ledger.counts[state] > 0,
  )
  const total = states.reduce((sum, state) => sum + ledger.counts[state], 0)
  if (total === 0) return
  let x: number = page.left
  let label: number = page.left
  for (const state of states) {
    const width = (ledger.counts[state] / total) * contentWidth
    sheet.doc.rect(x, sheet.y, Math.max(width - 1.5, 1), 9).fill(colors[state])
    const at = Math.max(x, label)
    const text = `${ledger.counts[state]} ${words[state]}`
    sheet.line(text, at, sheet.y + 13, { size: 8.5, color: colors[state], face: 'medium' })
    label = at + sheet.widthOf(text, { size: 8.5, face: 'medium' }) + 14
    x += width
  }
  sheet.y += 38
}

function drawList(sheet: Sheet, lines: readonly string[]): void {
  const style = { size: 9 } as const
  for (const line of lines) {
    sheet.need(sheet.height(line, contentWidth, style))
    sheet.y = sheet.text(line, page.left, sheet.y, contentWidth, style) + 2.5
  }
  sheet.y += 8
}

function stateCell(proof: Proof): Cell {
  return { text: words[proof.state], color: colors[proof.state], face: 'medium' }
}

function dayOf(ns: string): string {
  return new Date(Number(BigInt(ns) / 1_000_000n)).toISOString().slice(0, 10)
}
