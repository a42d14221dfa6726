import type { LevelResult } from '#analysis/fuel-work/calibrate-level.ts'
import { type HoldAnalysis, type HoldResult, leaksOf } from '#analysis/model/hold-result.ts'
import type { System } from '#analysis/model/system.ts'
import { unitsOfSystem } from '#analysis/reasons/figures.ts'
import type { SealedRecord } from '#dashboard/archive/record.ts'
import { recordSubject, recordVerdict } from '../record-words.ts'
import type { PublicKeyInfo } from '../signing-key.ts'
import { sha256Hex } from '../write-durably.ts'
import { drawLeak } from './bars.ts'
import { drawDecayChart, drawLevelChart } from './charts.ts'
import { drawTable } from './fact-table.ts'
import { grouped, utcMinute } from './figure-words.ts'
import { allowanceWords, leakWords, verdictSentence, verdictTitles } from './hold-facts.ts'
import { drawAbout, drawOrigin } from './report-parts.ts'
import { drawReasons, drawResult, kindTitles } from './result-facts.ts'
import { ink, page, type Sheet } from './sheet.ts'

/** One hold in a dossier: verdict, leak against the allowance, and its curve, about a third of a page. */
export function drawDossierHold(sheet: Sheet, proof: DossierProof, printed: Map<string, string>): void {
  const { record, system, analysis } = proof
  const result = record.result as HoldResult
  const accent = ink[result.verdict]
  const unit = unitsOfSystem(system, result.sections).pressure
  const hold = system?.holds.find((each) => each.id === result.hold) ?? null
  const curves = analysis?.curves.filter((each) => each.timeS.length > 1) ?? []
  sheet.need(100 + (curves.length > 0 ? 140 : 0) + leaksOf(result).length * 62)
  drawProofHead(sheet, proof, verdictTitles[result.verdict], accent)
  sheet.paragraph(verdictSentence(result), { size: 10 }, 3)
  const figures = leaksOf(result).map((leak) => `${leak.section}: ${leakWords(leak, unit)}`)
  const line = [`Allowance ${allowanceWords(result, hold, unit)}`, ...figures].join('. Leak of ')
  sheet.paragraph(`${line}.`, { size: 8.5, color: ink.soft }, 6)
  drawOrigin(sheet, record, 8.5)
  drawReasons(sheet, { reasons: result.reasons }, record.id, printed)
  const one = { result, hold, unit, accent }
  for (const leak of leaksOf(result)) drawLeak(sheet, one, leak, false)
  for (const each of curves) {
    sheet.need(136)
    drawDecayChart(sheet, one, each, 136)
  }
  drawNote(sheet, proof)
}

/** Any other evidence in a dossier, with a layout derived from its result. */
export function drawDossierOther(sheet: Sheet, proof: DossierProof, printed: Map<string, string>): void {
  const verdict = recordVerdict(proof.record)
  sheet.need(90)
  drawProofHead(sheet, proof, verdict ? verdictTitles[verdict] : '', verdict ? ink[verdict] : ink.text)
  const result = proof.record.result as Readonly<Record<string, unknown>>
  const unit = unitsOfSystem(proof.system).pressure
  drawReasons(sheet, result, proof.record.id, printed)
  if (proof.record.kind === 'level' && Array.isArray(result.steps_level) && Array.isArray(result.points)) {
    drawLevelChart(sheet, result as unknown as LevelResult, 190)
    // The drawing shows every point, and the attached record has all digits.
    drawResult(sheet, { ...result, points: null }, unit)
  } else drawResult(sheet, result, unit)
  drawNote(sheet, proof)
}

function drawProofHead(sheet: Sheet, { record }: DossierProof, word: string, accent: string): void {
  sheet.rule(sheet.y, ink.text, 0.8)
  sheet.y += 9
  const title = `${kindTitles[record.kind]}: ${recordSubject(record)}`
  sheet.line(title, page.left, sheet.y, { size: 12, face: 'medium' })
  if (word)
    sheet.line(word, page.right, sheet.y - 3, { size: 17, face: 'light', color: accent, align: 'right' })
  sheet.y += 19
  drawAbout(sheet, record, 8.5, [
    record.id,
    utcMinute(record.sealed_at),
    record.operator && `operator ${record.operator}`,
    record.witness && `witness ${record.witness}`,
  ])
}

function drawNote(sheet: Sheet, { record }: DossierProof): void {
  const lines = record.note ? [record.note] : []
  for (const photo of record.photos) lines.push(`photo ${photo.name}, SHA-256 ${photo.sha256.slice(0, 16)}…`)
  for (const line of lines) sheet.paragraph(line, { size: 8.5, face: 'slanted' }, 2)
  sheet.y += 16
}

export interface DossierProof {
  readonly record: SealedRecord
  readonly recordText: string
  readonly recording: Uint8Array | null
  readonly system: System | null
  readonly analysis: HoldAnalysis | null
}

/** Last page of a dossier: every record with its hash, so that paper alone reveals an added or lost record. */
export function drawChainPage(
  sheet: Sheet,
  proofs: readonly DossierProof[],
  key: PublicKeyInfo,
  recordingsLeftOut: number,
): void {
  sheet.heading('Chain of records', 120)
  const left =
    recordingsLeftOut === 0
      ? 'The records and their recordings are attached to this PDF.'
      : `The records are attached to this PDF; ${recordingsLeftOut} recordings are too large for it and stay in the archive.`
  const about = `${left} Each record names the hash of the one before it and is signed. This dossier is sealed with the key ${grouped(key.fingerprint, 4)}. Check it on any computer with “stillhold verify” and this file.`
  sheet.paragraph(about, { size: 8, color: ink.soft }, 8)
  drawTable(
    sheet,
    { record: 2.1, sealed: 1.7, subject: 1.5, verdict: 0.8, 'SHA-256, first half': 2.9 },
    proofs.map(({ record, recordText }) => {
      const verdict = recordVerdict(record)
      return [
        record.id,
        utcMinute(record.sealed_at),
        recordSubject(record),
        verdict === null ? '–' : { text: verdictTitles[verdict].toLowerCase(), color: ink[verdict] },
        grouped(sha256Hex(recordText).slice(0, 32)),
      ]
    }),
  )
}
