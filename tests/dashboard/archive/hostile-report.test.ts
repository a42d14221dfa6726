import { truncateSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { foreignPart } from '#dashboard/archive/compare-pdf.ts'
import { checkPdfSeal, readPdf } from '#dashboard/archive/pdf-file.ts'
import { printDossier } from '#dashboard/archive/print.ts'
import { mostRecordingBytes, renderReport } from '#dashboard/archive/report.ts'
import { readSigningKey } from '#dashboard/archive/signing-key.ts'
import { verify } from '#dashboard/archive/verify.ts'
import { archiveIn, emptyFolder, holdDraft, reportOf } from './bench-archive.ts'
import { sealDemoHold } from './sealed-hold.ts'

const version = '0.0.0-test'

describe('limits of a test report', () => {
  it('verify(file) refuses a file larger than any report without reading it', async () => {
    const path = join(emptyFolder(), 'large.pdf')
    writeFileSync(path, '%PDF-1.7\n')
    truncateSync(path, 9e9)
    await expect(verify(path, { programVersion: version })).rejects.toThrow(
      `${path} is no test report or record: it has 9000 MB, and neither has more than 300`,
    )
  })

  it('renderReport(record) refuses a recording that would not be read again, and says what to give instead', async () => {
    const archive = archiveIn(emptyFolder())
    const record = archive.seal(holdDraft(null, { kind: 'work', result: { fitting: 'F07' } }))
    const recording = new Uint8Array(mostRecordingBytes + 1)
    const kept = { ...archive.keptRecord('1'), recording }
    const input = { ...kept, system: null, analysis: null, marks: [], writer: version }
    await expect(renderReport(input, readSigningKey(archive.folder)!)).rejects.toThrow(
      `the recording of ${record.id} has 200 MB, and a test report carries 200 at most: give the whole archive`,
    )
    expect((await reportOf(archive, record.id)).length).toBeGreaterThan(1000)
  })
})

describe('foreignPart(pdf)', () => {
  it('finds nothing in what this program prints, report and dossier, all four faces of its font among it', async () => {
    const folder = emptyFolder()
    const archive = archiveIn(folder)
    sealDemoHold(archive, 'lines-leak')
    archive.seal({ ...holdDraft(null, { kind: 'work', result: { fitting: 'F07' } }), note: 'fi ffi → ½ μ' })
    sealDemoHold(archive, 'valve-passing')
    const dossier = await printDossier(folder, archive.kept(), { name: null, text: null }, version)
    const pdfs = [await reportOf(archive, '1'), await reportOf(archive, '2'), dossier]
    for (const pdf of pdfs) expect(await foreignPart(readPdf(checkPdfSeal(pdf).unsealed))).toBeNull()
  }, 60_000)
})
