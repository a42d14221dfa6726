import type { HuntResult } from '#analysis/hunt/hunt.ts'
import type { Ledger, LedgerFitting } from '#analysis/hunt/ledger.ts'
import type { Proof, ProofState } from '#analysis/hunt/proof-of-fittings.ts'
import { type HoldResult, leaksOf } from '#analysis/model/hold-result.ts'
import { isoTime } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { percentOf } from '#analysis/reasons/figures.ts'
import { recordVerdict } from '../record-words.ts'
import { drawDividedBar } from './bars.ts'
import { drawChannels } from './channel-rows.ts'
import type { DossierProof } from './dossier-proof.ts'
import { type Cell, drawTable } from './fact-table.ts'
import { fixed, utcMinute } from './figure-words.ts'
import { drawCautions, drawHead, drawNames, drawVerdict } from './report-parts.ts'
import { ink, type Sheet } from './sheet.ts'

const words: Readonly<Record<ProofState, string>> = {
  proven: 'proven',
  stale: 'stale',
  failed: 'failed',
  'never-held': 'never held',
}

/** Worst first. */
const states = ['failed', 'stale', 'never-held', 'proven'] as const

const colors: Readonly<Record<ProofState, string>> = {
  proven: ink.pass,
  stale: ink.undecided,
  failed: ink.fail,
  'never-held': ink.void,
}

/**
 * First pages of a dossier, a five-minute summary: proven sections; open items and how to close them; work
 * done; instruments; signatures and how to check them. Then every fitting.
 */
export function drawLedgerPages(
  sheet: Sheet,
  {
    ledger,
    hunt,
    described,
    proofs,
  }: {
    readonly ledger: Ledger
    /** The posterior of the same evidence. */
    readonly hunt: HuntResult
    /** The system of the ledger. */
    readonly described: System
    readonly proofs: readonly DossierProof[]
  },
): void {
  const { registration, serial } = described.aircraft ?? { registration: null, serial: null }
  const papers = [registration, serial && `serial ${serial}`].filter(Boolean).join(', ')
  drawHead(sheet, 'Dossier of a fuel system', [ledger.system, papers].filter(Boolean).join(' · '))
  const accent = ledger.complete ? ink.pass : ledger.counts.failed > 0 ? ink.fail : ink.undecided
  drawVerdict(sheet, ledger.complete ? 'Proven' : 'Open', ledger.message, accent)
  sheet.y += 6
  drawCounts(sheet, ledger)
  const holds = proofs.filter(({ record }) => record.kind === 'hold' && 'stages' in record.result)
  drawSections(sheet, ledger, holds)
  drawOpen(sheet, ledger)
  drawDone(sheet, proofs)
  if (described.channels.length > 0) {
    sheet.heading('Instruments, from the current system file', 90)
    drawChannels(sheet, described.channels, 8)
  }
  drawNames(sheet, { operator: people(proofs, 'operator'), witness: people(proofs, 'witness') })
  drawCautions(sheet)
  drawFittings(sheet, ledger, hunt)
  const last = proofs.at(-1)?.record
  if (!last) return
  const taken = `Leaks, the probability that a fitting leaks now: from all the evidence in the archive, taken ${utcMinute(last.sealed_at)} with record ${last.id}.`
  sheet.y -= 4
  sheet.paragraph(taken, { size: 8.5, color: ink.soft }, 8)
}

function people(proofs: readonly DossierProof[], role: 'operator' | 'witness'): string | null {
  return [...new Set(proofs.flatMap(({ record }) => record[role] ?? []))].join(', ') || null
}

/** One line a section: the number of fittings in its worst state, and its last hold. */
function drawSections(sheet: Sheet, { fittings }: Ledger, holds: readonly DossierProof[]): void {
  sheet.heading('State by section', 80)
  const sections = [...new Set(fittings.map(({ section }) => section))]
  drawTable(
    sheet,
    { section: 1.3, fittings: 1.6, 'last hold': 1.9, date: 0.9, verdict: 0.8, 'leak, % of allowance': 1.5 },
    sections.map((section) => {
      const own = fittings.filter((f) => f.section === section)
      const worst = states.find((state) => own.some(({ proof }) => proof.state === state)) ?? 'proven'
      const count = own.filter(({ proof }) => proof.state === worst).length
      const state = {
        text: `${count} of ${own.length} ${words[worst]}`,
        color: colors[worst],
        face: 'medium' as const,
      }
      const name = own.some(({ rig }) => rig) ? `${section}, not counted` : section
      const last = holds.findLast(({ record }) => (record.result as HoldResult).sections.includes(section))
      if (!last) return [name, state, 'none', '–', '–', '–']
      const result = last.record.result as HoldResult
      const leak = leaksOf(result).find((one) => one.section === section)?.drop_Pa
      const share = (pa: number): string => fixed((100 * pa) / result.allowance.drop_Pa, 0)
      return [
        name,
        state,
        last.record.id,
        heldOn(last),
        { text: result.verdict, color: ink[result.verdict] },
        leak ? `${share(leak.value)} (${share(leak.low)} to ${share(leak.high)})` : '–',
      ]
    }),
    { right: 'leak, % of allowance', after: 8 },
  )
}

/** Open items, a line for each reason of each section, with the hold that closes it. */
function drawOpen(sheet: Sheet, ledger: Ledger): void {
  const groups = new Map<string, LedgerFitting[]>()
  for (const f of ledger.fittings)
    if (!f.rig && f.proof.state !== 'proven') {
      const key = `${f.section}\n${f.proof.why}`
      groups.set(key, [...(groups.get(key) ?? []), f])
    }
  const lines = [
    ...ledger.errors,
    ...ledger.fittings.filter((f) => f.wet?.state === 'failed').map((f) => `${f.id}: ${f.wet?.why}`),
    ...ledger.uncoverable.map((each) => `${each.id} cannot be covered. ${each.why}`),
    ...ledger.plugs_in.map(
      (plug) => `Plug ${plug.id} is in since ${dayOf(plug.since_ns)}: take it out and mark it out.`,
    ),
    ...ledger.cautions,
  ]
  if (groups.size > 0) {
    sheet.heading('Open items', 70)
    drawTable(
      sheet,
      { section: 1.3, fittings: 2, why: 3, 'closed by': 1.8, min: 0.6 },
      [...groups].map(([key, group]) => {
        const [section = '', why = ''] = key.split('\n')
        const ids = group.map(({ id }) => id)
        const closing = ledger.holds_to_do.find(({ proves }) => ids.some((id) => proves.includes(id)))
        const by = closing ? (closing.hold ?? closing.sections.join(' + ')) : 'no hold'
        return [section, ids.join(', '), why, by, closing ? String(Math.round(closing.minutes)) : '–']
      }),
      { right: 'min', after: 8 },
    )
  }
  if (lines.length === 0) return
  sheet.heading(groups.size > 0 ? 'Notes' : 'Open items and notes', 50)
  for (const line of lines) sheet.paragraph(line, { size: 9 }, 2.5)
  sheet.y += 8
}

/** Every record in the order of sealing, one line each. */
function drawDone(sheet: Sheet, proofs: readonly DossierProof[]): void {
  sheet.heading(proofs.length === 0 ? 'No sealed records yet' : `Sealed records: ${proofs.length}`, 60)
  if (proofs.length === 0) return
  drawTable(
    sheet,
    { date: 0.9, record: 2.2, kind: 1.1, verdict: 0.8, 'operator, witness': 1.8, photographs: 0.9 },
    proofs.map((proof) => {
      const { record } = proof
      const verdict = recordVerdict(record)
      return [
        heldOn(proof),
        record.id,
        record.kind,
        verdict === null ? '–' : { text: verdict, color: ink[verdict] },
        [record.operator, record.witness].filter(Boolean).join(', ') || '–',
        record.photos.length > 0 ? String(record.photos.length) : '–',
      ]
    }),
    { right: 'photographs', after: 8 },
  )
}

/** Date of the evidence, if it states one; else of the seal. */
function heldOn({ record }: DossierProof): string {
  const { stages, time_ns } = record.result as { stages?: HoldResult['stages']; time_ns?: unknown }
  const ns = stages?.pump_up_ns ?? stages?.hold_ns ?? time_ns
  return ns ? dayOf(String(ns)) : record.sealed_at.slice(0, 10)
}

function drawFittings(sheet: Sheet, ledger: Ledger, hunt: HuntResult): void {
  const leaking = new Map(hunt.fittings.map((one) => [one.id, one.held ? percentOf(one.leaking) : '–']))
  sheet.heading('Fittings', 80)
  const wet = ledger.fittings.some((f) => f.wet !== null)
  drawTable(
    sheet,
    {
      ...{ fitting: 0.8, name: 2, section: 1.4, 'dry proof': 1, 'by record': 1.9, leaks: 0.8 },
      ...(wet && { 'wet proof': 1 }),
      'last work': 1.9,
    },
    ledger.fittings.map((fitting) => [
      fitting.id,
      fitting.name,
      fitting.section,
      stateCell(fitting.proof),
      fitting.proof.record ?? '–',
      leaking.get(fitting.id) ?? '–',
      ...(wet ? [fitting.wet ? stateCell(fitting.wet) : '–'] : []),
      fitting.last_work ? `${fitting.last_work.action} ${dayOf(fitting.last_work.time_ns)}` : '–',
    ]),
    { right: 'leaks', after: 8 },
  )
}

/** Number of fittings in each state. */
function drawCounts(sheet: Sheet, { counts }: Ledger): void {
  const present = (Object.keys(words) as ProofState[]).filter((state) => counts[state] > 0)
  const parts = present.map((state) => {
    const share = counts[state] / present.reduce((sum, each) => sum + counts[each], 0)
    return { share, words: `${counts[state]} ${words[state]}`, color: colors[state] }
  })
  drawDividedBar(sheet, parts)
}

function stateCell(proof: Proof): Cell {
  return { text: words[proof.state], color: colors[proof.state], face: 'medium' }
}

function dayOf(ns: string): string {
  return isoTime(ns).slice(0, 10)
}
