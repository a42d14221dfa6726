import { createHash, generateKeyPairSync, randomBytes, sign, X509Certificate } from 'node:crypto'
import { mkdirSync, readFileSync, writeFileSync } from 'node:fs'
import { isIP } from 'node:net'
import { join } from 'node:path'
import { der } from '#dashboard/archive/der.ts'

export interface OwnCertificate {
  readonly key: string
  readonly cert: string
  /** SHA-256 of the certificate, as browsers show it: users compare it before they trust it. */
  readonly fingerprint: string
}

const dayMs = 86_400_000
/** Longest lifetime of a server certificate that browsers accept. Source: CA/Browser Forum, baseline requirements 6.3.2. */
const lastsDays = 397
/** Renewed this long before it expires. */
const renewBeforeDays = 30

/**
 * The bench's own certificate, kept in `folder`: made on first use, and again when it expires or the hosts change.
 *
 * @param hosts names and addresses at which the page is opened
 * @throws Error with one plain sentence when the folder cannot be written
 */
export function ownCertificate(folder: string, hosts: readonly string[], now = new Date()): OwnCertificate {
  const paths = { key: join(folder, 'key.pem'), cert: join(folder, 'certificate.pem') }
  try {
    const kept = { key: readFileSync(paths.key, 'utf8'), cert: readFileSync(paths.cert, 'utf8') }
    if (stillServes(kept.cert, hosts, now)) return withFingerprint(kept)
  } catch {
    // Missing or unreadable: a new one is made.
  }
  const made = makeCertificate(hosts, now)
  try {
    mkdirSync(folder, { recursive: true, mode: 0o700 })
    writeFileSync(paths.key, made.key, { mode: 0o600 })
    writeFileSync(paths.cert, made.cert)
  } catch (error) {
    throw new Error(`the certificate for --tls cannot be stored in ${folder}: ${(error as Error).message}`)
  }
  return withFingerprint(made)
}

const withFingerprint = (kept: { key: string; cert: string }): OwnCertificate => ({
  ...kept,
  fingerprint: new X509Certificate(kept.cert).fingerprint256,
})

function stillServes(cert: string, hosts: readonly string[], now: Date): boolean {
  const known = new X509Certificate(cert)
  const endsMs = Date.parse(known.validTo)
  return (
    endsMs - now.getTime() > renewBeforeDays * dayMs &&
    Date.parse(known.validFrom) <= now.getTime() &&
    hosts.every((host) => (isIP(host) ? known.checkIP(host) : known.checkHost(host)) !== undefined)
  )
}

/** A self-signed server certificate with a P-256 key. Source: RFC 5280, DER of ITU-T X.690. */
function makeCertificate(hosts: readonly string[], now: Date): { key: string; cert: string } {
  const { publicKey, privateKey } = generateKeyPairSync('ec', { namedCurve: 'P-256' })
  const keyInfo = publicKey.export({ type: 'spki', format: 'der' })
  const ecdsaWithSha256 = sequence(oid('2a8648ce3d040302'))
  const name = sequence(set(sequence(oid('550403'), der(0x0c, Buffer.from('Stillhold bench')))))
  const serial = randomBytes(16)
  // Positive, and without a leading zero byte.
  serial.writeUInt8((serial.readUInt8() & 0x7f) | 0x40)
  const keyId = createHash('sha1').update(keyInfo).digest()
  const body = sequence(
    der(0xa0, der(0x02, Buffer.from([2]))),
    der(0x02, serial),
    ecdsaWithSha256,
    name,
    sequence(
      time(new Date(now.getTime() - dayMs)),
      time(new Date(now.getTime() + lastsDays * dayMs - dayMs)),
    ),
    name,
    keyInfo,
    der(
      0xa3,
      sequence(
        extension('551d11', sequence(...hosts.map(alternativeName))),
        // A CA of its own: a phone that trusts it trusts only this certificate.
        extension('551d13', sequence(der(0x01, Buffer.from([0xff])), der(0x02, Buffer.from([0])))),
        extension('551d0f', der(0x03, Buffer.from([2, 0x84]))),
        extension('551d25', sequence(oid('2b06010505070301'))),
        extension('551d0e', der(0x04, keyId)),
      ),
    ),
  )
  const signature = sign('sha256', body, privateKey)
  const certificate = sequence(body, ecdsaWithSha256, der(0x03, Buffer.concat([Buffer.of(0), signature])))
  const lines = certificate.toString('base64').replaceAll(/.{1,64}/g, '$&\n')
  return {
    key: privateKey.export({ type: 'pkcs8', format: 'pem' }).toString(),
    cert: `-----BEGIN CERTIFICATE-----\n${lines}-----END CERTIFICATE-----\n`,
  }
}

const sequence = (...content: readonly Buffer[]): Buffer => der(0x30, ...content)
const set = (...content: readonly Buffer[]): Buffer => der(0x31, ...content)
/** @param hex the object identifier's content octets */
const oid = (hex: string): Buffer => der(0x06, Buffer.from(hex, 'hex'))
const extension = (id: string, value: Buffer): Buffer => sequence(oid(id), der(0x04, value))

/** GeneralizedTime as `20261130151200Z`; years before 2050 must be UTCTime, with two digits. */
function time(date: Date): Buffer {
  const text = `${date.toISOString().replaceAll(/[-:T]|\.\d+/g, '')}`
  return date.getUTCFullYear() < 2050 ? der(0x17, Buffer.from(text.slice(2))) : der(0x18, Buffer.from(text))
}

function alternativeName(host: string): Buffer {
  switch (isIP(host)) {
    case 4:
      return der(0x87, Buffer.from(host.split('.').map(Number)))
    case 6:
      return der(0x87, ipv6Bytes(host))
    default:
      return der(0x82, Buffer.from(host))
  }
}

function ipv6Bytes(address: string): Buffer {
  const [head = [], tail] = address
    .replace(/%.*/, '')
    .split('::')
    .map((part) => part.split(':').filter(Boolean))
  const zeros = tail === undefined ? 0 : 8 - head.length - tail.length
  const groups = [...head, ...Array<string>(zeros).fill('0'), ...(tail ?? [])]
  return Buffer.from(groups.map((group) => group.padStart(4, '0')).join(''), 'hex')
}
