import { readFileSync, truncateSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { deflateSync } from 'node:zlib'
import { PDFDocument, PDFName, PDFRawStream, PDFString } from 'pdf-lib'
import { describe, expect, it } from 'vitest'
import type { HoldResult } from '#analysis/model/hold-result.ts'
import { renderCertificate } from '#dashboard/archive/certificate.ts'
import { sealPdf } from '#dashboard/archive/certificate-seal.ts'
import { certify } from '#dashboard/archive/certify.ts'
import { mostPdfBytes, mostRecordingBytes, mostUnpackedBytes } from '#dashboard/archive/most-attached.ts'
import { recomputeHold } from '#dashboard/archive/recompute-hold.ts'
import { verify } from '#dashboard/archive/verify.ts'
import { archiveIn, emptyFolder, holdDraft } from './bench-archive.ts'
import { sealDemoHold } from './sealed-hold.ts'

const options = { programVersion: '0.0.0-test', expectedKey: null }

async function brokenOf(pdf: Uint8Array): Promise<string[]> {
  const path = join(emptyFolder(), 'hostile.pdf')
  writeFileSync(path, pdf)
  const report = await verify(path, options)
  expect(report.exit_code).toBe(12)
  return report.findings.filter(({ state }) => state === 'broken').map(({ text }) => text)
}

/** A PDF with attachments of zeros, sealed by a key of the sender's own: whoever wishes harm can do that much. */
async function bomb(sizes: readonly number[], useObjectStreams = false): Promise<Uint8Array> {
  const key = archiveIn(emptyFolder()).signingKey()
  const document = await PDFDocument.create()
  document.addPage()
  const { context, catalog } = document
  const names = sizes.flatMap((size, index) => {
    const name = PDFString.of(`${index}.json`)
    const packed = deflateSync(Buffer.alloc(size), { level: 1 })
    const file = context.register(PDFRawStream.of(context.obj({ Filter: 'FlateDecode' }), packed))
    return [name, context.obj({ Type: 'Filespec', F: name, UF: name, EF: { F: file } })]
  })
  catalog.set(PDFName.of('Names'), context.obj({ EmbeddedFiles: { Names: names } }))
  return sealPdf(await document.save({ useObjectStreams }), key)
}

describe('verify(certificate that wishes harm)', () => {
  const tooLarge = `no sealed record can be taken from it: its attachments unpack to more than ${mostUnpackedBytes / 1e6} MB, which no certificate has`

  it('refuses attachments that unpack to more than a PDF may have, before the last is unpacked', async () => {
    const half = Math.floor(mostUnpackedBytes / 2)
    const pdf = await bomb([half, half, 2])
    expect(pdf.length).toBeLessThan(3e6)
    expect(await brokenOf(pdf)).toEqual([tooLarge])
  }, 180_000)

  it('refuses packed objects, which the reader of PDFs would unpack without a limit, however they are spelled', async () => {
    const packed = await bomb([10], true)
    const refused = ['no sealed record can be taken from it: it is packed in a way that no certificate is']
    expect(await brokenOf(packed)).toEqual(refused)
    const spelled = Buffer.from(packed).toString('latin1').replaceAll('/ObjStm', '/#4fbj#53tm')
    const both = spelled.replaceAll('/XRef', '/X#52ef')
    expect(both).not.toContain('/XRef')
    expect((await brokenOf(Buffer.from(both, 'latin1'))).at(-1)).toBe(refused[0])
  })

  it('refuses a file larger than any certificate without reading it', async () => {
    const path = join(emptyFolder(), 'large.pdf')
    writeFileSync(path, '%PDF-1.7\n')
    truncateSync(path, 9e9)
    await expect(verify(path, options)).rejects.toThrow(
      `${path} is no certificate or record: it has 9000 MB, and neither has more than ${mostPdfBytes / 1e6}`,
    )
  })
})

describe('verify(certificate whose pages say other than its record)', () => {
  /** Pages of a hold that failed, drawn as `drawn` says, with the failed record attached; sealed by its own key. */
  async function saidOf(drawn: (result: HoldResult) => object) {
    const archive = archiveIn(emptyFolder())
    const record = sealDemoHold(archive, 'lines-leak')
    const recording = readFileSync(archive.recordingPath(record.id)!)
    const { system, analysis } = recomputeHold(record, recording)
    const shown = { ...record, result: { ...record.result, ...drawn(record.result as HoldResult) } }
    const recordText = archive.getText(record.id)
    const pages = { record: shown, recordText, recording, system, analysis }
    const path = join(emptyFolder(), 'forged.pdf')
    writeFileSync(path, await renderCertificate(pages, archive.signingKey()))
    const { findings, exit_code } = await verify(path, options)
    return { pages: findings.map(({ text }) => text).filter((text) => text.startsWith('pages')), exit_code }
  }
  const otherwise = ['pages: version 0.0.0-test would print this record differently; trust the attached data']

  it('tells a pass drawn over a failed hold, and ends with the code of the hold', async () => {
    expect(await saidOf(() => ({}))).toEqual({
      pages: ['pages: they show what the attached record says'],
      exit_code: 10,
    })
    expect(await saidOf(() => ({ verdict: 'pass' }))).toEqual({ pages: otherwise, exit_code: 10 })
  }, 180_000)

  it('tells a figure drawn a hundredth smaller', async () => {
    const found = await saidOf(({ raw_drop_Pa }) => ({ raw_drop_Pa: 0.99 * raw_drop_Pa! }))
    expect(found).toEqual({ pages: otherwise, exit_code: 10 })
  }, 180_000)
})

describe('renderCertificate(record)', () => {
  it('refuses a recording that would not be read again, and says what to give instead', async () => {
    const archive = archiveIn(emptyFolder())
    const record = archive.seal(holdDraft(null, { kind: 'work', result: { fitting: 'F07' } }))
    const recording = new Uint8Array(mostRecordingBytes + 1)
    const input = { record, recordText: archive.getText(record.id), recording, system: null, analysis: null }
    await expect(renderCertificate(input, archive.signingKey())).rejects.toThrow(
      `the recording of ${record.id} has 200 MB, and a certificate carries 200 at most: give the whole archive`,
    )
    expect((await certify(archive, record.id)).length).toBeGreaterThan(1000)
  })
})
