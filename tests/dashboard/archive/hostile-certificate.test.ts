import { truncateSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { PDFDocument } from 'pdf-lib'
import { describe, expect, it } from 'vitest'
import { renderCertificate } from '#dashboard/archive/certificate.ts'
import { sealPdf } from '#dashboard/archive/certificate-seal.ts'
import { certify } from '#dashboard/archive/certify.ts'
import { mostPdfBytes, mostRecordingBytes, mostUnpackedBytes } from '#dashboard/archive/most-attached.ts'
import { verify } from '#dashboard/archive/verify.ts'
import { archiveIn, emptyFolder, holdDraft } from './bench-archive.ts'

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
  for (const [index, size] of sizes.entries())
    await document.attach(new Uint8Array(size), `${index}.json`, { mimeType: 'application/json' })
  return sealPdf(await document.save({ useObjectStreams }), key)
}

describe('verify(certificate that wishes harm)', () => {
  const tooLarge = `no sealed record can be taken from it: its attachments unpack to more than ${mostUnpackedBytes / 1e6} MB, which no certificate has`

  it('refuses attachments that unpack to more than a PDF may have, before the last is unpacked', async () => {
    const half = Math.floor(mostUnpackedBytes / 2)
    const pdf = await bomb([half, half, 2])
    expect(pdf.length).toBeLessThan(1e6)
    expect(await brokenOf(pdf)).toEqual([tooLarge])
  }, 60_000)

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
