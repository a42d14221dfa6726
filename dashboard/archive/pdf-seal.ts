import { type SigningKey, signatureHolds } from './signing-key.ts'

/**
 * The seal of a test report is one comment line of the PDF, just before `startxref`:
 *
 *   % stillhold-seal <public key, base64> <Ed25519 signature, base64>
 *
 * The signature covers all the file's bytes without that line (and its line end). Every other byte of the file is
 * therefore protected, and checking needs no PDF parser.
 */
const marker = '% stillhold-seal '
const anchor = 'startxref'

export interface SealCheck {
  readonly state: 'holds' | 'broken' | 'none'
  readonly publicKey: string | null
  readonly unsealed: Uint8Array
}

export function sealPdf(pdf: Uint8Array, key: SigningKey): Uint8Array {
  const bytes = Buffer.from(pdf)
  const at = bytes.lastIndexOf(anchor)
  if (at < 0) throw new RangeError('not a PDF: it has no startxref')
  const line = Buffer.from(`${marker}${key.public.base64} ${key.sign(bytes)}\n`, 'latin1')
  return Buffer.concat([bytes.subarray(0, at), line, bytes.subarray(at)])
}

export function checkPdfSeal(pdf: Uint8Array): SealCheck {
  const bytes = Buffer.from(pdf)
  const at = bytes.lastIndexOf(`\n${marker}`, undefined, 'latin1')
  const end = at < 0 ? -1 : bytes.indexOf('\n', at + 1)
  if (at < 0 || end < 0) return { state: 'none', publicKey: null, unsealed: bytes }
  const line = bytes.subarray(at + 1, end).toString('latin1')
  const parts = /^% stillhold-seal ([A-Za-z0-9+/=]{44}) ([A-Za-z0-9+/=]{88})$/.exec(line)
  const isInPlace = bytes.subarray(end + 1, end + 1 + anchor.length).toString('latin1') === anchor
  const unsealed = Buffer.concat([bytes.subarray(0, at + 1), bytes.subarray(end + 1)])
  if (parts === null || !isInPlace) return { state: 'broken', publicKey: null, unsealed }
  const [, publicKey = '', signature = ''] = parts
  return { state: signatureHolds(publicKey, unsealed, signature) ? 'holds' : 'broken', publicKey, unsealed }
}
