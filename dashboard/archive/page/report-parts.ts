import type { HoldAnalysis } from '#analysis/model/hold-result.ts'
import type { Mark } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { cautionsOfEveryHold } from '#analysis/reasons/hold-cautions.ts'
import type { SealedRecord } from '#dashboard/archive/record.ts'
import { originWords } from '../record-words.ts'
import { publicKeyFromBase64 } from '../signing-key.ts'
import { sha256Hex } from '../write-durably.ts'
import { grouped, utcMinute } from './figure-words.ts'
import { contentWidth, ink, page, type Sheet } from './sheet.ts'

/** Top of the first page: kind of report and its record. */
export function drawHead(sheet: Sheet, title: string, id: string): void {
  sheet.line(title, page.left, sheet.y, { size: 9, face: 'medium' })
  sheet.line(id, page.right, sheet.y, { size: 9, color: ink.soft, align: 'right' })
  sheet.y += 17
  sheet.rule(sheet.y, ink.text, 0.8)
  sheet.y += 14
}

/** The verdict first, in words readable from across a hangar. */
export function drawVerdict(sheet: Sheet, word: string, sentence: string, accent: string): void {
  sheet.line(word, page.left, sheet.y, { face: 'light', size: 46, color: accent })
  sheet.y += 60
  sheet.paragraph(sentence, { size: 14, lineGap: 2 }, 3)
}

/** A record in one line, with the record that it corrects or retests. */
export function drawAbout(
  sheet: Sheet,
  { corrects, retests }: SealedRecord,
  size: number,
  words: readonly (string | null)[],
): void {
  const links = [corrects && `corrects ${corrects}`, retests && `retest of ${retests}`]
  sheet.paragraph([...words, ...links].filter(Boolean).join('  ·  '), { size, color: ink.soft }, 8)
}

/** Source of a hold's readings, in red unless a bench measured them. */
export function drawOrigin(sheet: Sheet, record: SealedRecord, size: number): void {
  const origin = originWords(record)
  if (!origin) return
  const style = origin.isMeasured
    ? ({ size, color: ink.soft } as const)
    : ({ size: size + 1, face: 'medium', color: ink.fail } as const)
  sheet.paragraph(`Readings: ${origin.text}`, style, 8)
}

/** End of every report: notes, cautions, names and evidence. */
export function drawLastPart(sheet: Sheet, input: ReportInput): void {
  const { note, photos } = input.record
  if (note || photos.length > 0) {
    sheet.heading('Notes and photos', 50)
    if (note) sheet.paragraph(note, { size: 8.5 }, 3)
    for (const { name, sha256 } of photos) {
      const text = `${name}, SHA-256 ${sha256.slice(0, 16)}…, kept in the archive`
      sheet.paragraph(text, { size: 8, color: ink.soft })
    }
    sheet.y += 6
  }
  drawCautions(sheet)
  drawNames(sheet, input.record)
  drawEvidence(sheet, input)
}

const deference =
  'The instructions of the kit or airframe maker, local rules and the judgment of licensed people come before this ' +
  'page. It reports what was measured at the parts named, in the state named; it does not release an aircraft to ' +
  'service. Work on a part after the hold makes its proof stale.'

export function drawCautions(sheet: Sheet): void {
  const half = (contentWidth - 20) / 2
  const style = { size: 7.8, color: ink.text, lineGap: 1.2 } as const
  sheet.need(
    Math.max(sheet.height(cautionsOfEveryHold, half, style), sheet.height(deference, half, style)) + 26,
  )
  sheet.heading('Cautions and precedence')
  const left = sheet.text(cautionsOfEveryHold, page.left, sheet.y, half, style)
  const right = sheet.text(deference, page.left + half + 20, sheet.y, half, style)
  sheet.y = Math.max(left, right) + 8
}

/** Signature lines, with the names entered at the bench under them. */
export function drawNames(
  sheet: Sheet,
  { operator, witness }: { readonly operator: string | null; readonly witness: string | null },
): void {
  sheet.heading('Names', 74)
  sheet.y += 26
  const gap = 18
  const width = (contentWidth - 2 * gap) / 3
  const places: [string, string | null][] = [
    ['operator', operator],
    ['witness', witness],
    ['inspector, with license number and date', null],
  ]
  places.forEach(([role, name], i) => {
    const x = page.left + i * (width + gap)
    sheet.stroke(0.5, ink.soft, x, sheet.y, x + width, sheet.y)
    sheet.line(role, x, sheet.y + 4, { size: 7.5, color: ink.soft })
    if (name !== null) sheet.line(`entered: ${name}`, x, sheet.y + 14, { size: 7.5 })
  })
  sheet.y += 32
}

/** The link between paper and data: hashes, key, signature and how to check them. */
function drawEvidence(sheet: Sheet, input: ReportInput): void {
  const { record } = input
  const rows: [string, string][] = [
    ['record', grouped(sha256Hex(input.recordText))],
    ['recording', record.recording ? grouped(record.recording.sha256) : 'none'],
    ['system file', grouped(record.system.sha256)],
    [
      'previous record',
      record.previous_sha256 ? grouped(record.previous_sha256) : 'none; first of its chain',
    ],
    ['signature', record.signature],
    ['key', grouped(publicKeyFromBase64(record.public_key).fingerprint, 4)],
  ]
  sheet.heading('Evidence', 26 + rows.length * 11 + 30)
  for (const [name, value] of rows) {
    sheet.line(name, page.left, sheet.y, { size: 7.5, color: ink.soft })
    sheet.line(value, page.left + 66, sheet.y, { size: 7.5 })
    sheet.y += 11
  }
  const how =
    `Sealed ${utcMinute(record.sealed_at)} by stillhold ${record.program.version}. The sealed record and ` +
    `${record.recording ? 'the whole recording are' : 'its data are'} attached to this PDF. Check it on any computer ` +
    'with “stillhold verify” and this file; compare the key with the one the workshop printed.'
  sheet.y += 2
  sheet.paragraph(how, { size: 7.5, color: ink.soft }, 8)
}

export interface ReportInput {
  readonly record: SealedRecord
  /** The sealed text, byte for byte. */
  readonly recordText: string
  readonly recording: Uint8Array | null
  /** The parsed system file of the record; null when this program cannot read it. */
  readonly system: System | null
  /** The hold analysed from the recording, for its curves; the printed numbers are always the sealed ones. */
  readonly analysis: HoldAnalysis | null
  /** Marks of its recording, in the order of time. */
  readonly marks: readonly Mark[]
  /** Version of the program that prints. */
  readonly writer: string
}
