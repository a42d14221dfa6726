import { spawnSync } from 'node:child_process'
import { createPublicKey, X509Certificate } from 'node:crypto'
import { mkdtempSync, rmSync, statSync, writeFileSync } from 'node:fs'
import { request } from 'node:https'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { type OwnCertificate, ownCertificate } from '#dashboard/server/http/own-certificate.ts'
import { benchFolder, openBench } from './open-bench.ts'

const folder = mkdtempSync(join(tmpdir(), 'stillhold-tls-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))
const hosts = ['localhost', 'hangar.local', '127.0.0.1', '::1', 'fd00::1:2', '192.168.1.40']

describe('ownCertificate', () => {
  it('ownCertificate() names every host and signs itself, as RFC 5280 has it and Node reads it', () => {
    const made = new X509Certificate(ownCertificate(folder, hosts).cert)
    expect(made.subjectAltName).toBe(
      'DNS:localhost, DNS:hangar.local, IP Address:127.0.0.1, IP Address:0:0:0:0:0:0:0:1, IP Address:FD00:0:0:0:0:0:1:2, IP Address:192.168.1.40',
    )
    expect(made.verify(made.publicKey)).toBe(true)
    expect(made.keyUsage).toEqual(['1.3.6.1.5.5.7.3.1'])
    expect(statSync(join(folder, 'key.pem')).mode & 0o077).toBe(0)
  })
  it('ownCertificate() keeps what it made, makes a new one for another address, and before the old one ends', () => {
    const first = ownCertificate(folder, hosts)
    expect(ownCertificate(folder, hosts).cert).toBe(first.cert)
    const moved = ownCertificate(folder, [...hosts, '192.168.1.41'])
    expect(moved.cert).not.toBe(first.cert)
    // 397 days: the longest that browsers take (CA/Browser Forum, baseline requirements 6.3.2).
    const days = (ms: number) => ms / 86_400_000
    const { validFrom, validTo } = new X509Certificate(moved.cert)
    expect(days(Date.parse(validTo) - Date.parse(validFrom))).toBeCloseTo(397, 5)
    const later = ownCertificate(folder, hosts, new Date(Date.now() + 380 * 86_400_000))
    expect(later.cert).not.toBe(moved.cert)
  })
  it('ownCertificate() is renewed 30 days before it ends, and where the clock is before its begin', () => {
    const made = ownCertificate(folder, hosts)
    const { validTo, validFrom } = new X509Certificate(made.cert)
    const at = (from: string, days: number) => new Date(Date.parse(from) + days * 86_400_000)
    expect(ownCertificate(folder, hosts, at(validTo, -30.01)).cert).toBe(made.cert)
    expect(ownCertificate(folder, hosts, at(validFrom, 0)).cert).toBe(made.cert)
    const renewed = ownCertificate(folder, hosts, at(validTo, -30))
    expect(renewed.cert).not.toBe(made.cert)
    expect(Date.parse(new X509Certificate(renewed.cert).validFrom)).toBe(at(validTo, -31).getTime())
    expect(ownCertificate(folder, hosts, at(validFrom, -0.01)).cert).not.toBe(renewed.cert)
    writeFileSync(join(folder, 'certificate.pem'), 'not a certificate')
    expect(ownCertificate(folder, hosts).cert).toContain('BEGIN CERTIFICATE')
  })
  it('ownCertificate(in 2049) ends in 2050 or later with four digits of its year (RFC 5280, 4.1.2.5)', () => {
    const made = ownCertificate(join(folder, 'late'), hosts, new Date('2049-12-01T00:00:00Z'))
    const { validFrom, validTo, fingerprint256 } = new X509Certificate(made.cert)
    expect([Date.parse(validFrom), Date.parse(validTo)]).toEqual([
      ...[Date.parse('2049-11-30T00:00:00Z'), Date.parse('2051-01-01T00:00:00Z')],
    ])
    expect(made.fingerprint).toBe(fingerprint256)
    const ofKey = createPublicKey(made.key).export({ type: 'spki', format: 'pem' })
    expect(new X509Certificate(made.cert).publicKey.export({ type: 'spki', format: 'pem' })).toBe(ofKey)
    expect(statSync(join(folder, 'late')).mode & 0o777).toBe(0o700)
    expect(made.cert.split('\n').filter((line) => line.length > 64)).toEqual([])
  })
  it.skipIf(spawnSync('openssl', ['version']).status !== 0)(
    'ownCertificate() is what openssl reads as a CA of its own for servers only (skipped without openssl)',
    () => {
      const { cert } = ownCertificate(join(folder, 'other'), hosts)
      const { stdout } = spawnSync('openssl', ['x509', '-noout', '-text'], { input: cert, encoding: 'utf8' })
      const text = stdout.replaceAll(/\s+/g, ' ')
      expect(text).toContain('Version: 3 (0x2)')
      expect(text).toContain('Signature Algorithm: ecdsa-with-SHA256')
      expect(text).toMatch(/Issuer: CN ?= ?Stillhold bench Validity/)
      expect(text).toMatch(/Subject: CN ?= ?Stillhold bench Subject Public Key/)
      expect(text).toContain('ASN1 OID: prime256v1')
      expect(text).toContain('X509v3 Basic Constraints: CA:TRUE, pathlen:0 ')
      expect(text).toContain('X509v3 Key Usage: Digital Signature, Certificate Sign ')
      expect(text).toContain('X509v3 Extended Key Usage: TLS Web Server Authentication ')
      expect(text).toMatch(/X509v3 Subject Key Identifier: ([0-9A-F]{2}:){19}[0-9A-F]{2} /)
      // Positive, of 16 octets that do not begin with zero (RFC 5280, 4.1.2.2).
      expect(text).toMatch(/Serial Number: [4-7][0-9a-f](:[0-9a-f]{2}){15} /)
    },
  )
  it('ownCertificate() says in one sentence where it cannot be kept', () => {
    const file = join(folder, 'a-file')
    writeFileSync(file, '')
    expect(() => ownCertificate(join(file, 'tls'), hosts)).toThrow(
      /certificate for --tls cannot be stored in .*a-file/,
    )
  })
})

describe('a bench served over TLS', () => {
  const at = benchFolder()
  let certificate: OwnCertificate
  let bench: Awaited<ReturnType<typeof openBench>>
  beforeAll(async () => {
    certificate = ownCertificate(join(at.folder, 'tls'), hosts)
    bench = await openBench(at, { listen: { host: '127.0.0.1', port: 0, certificate } })
  })
  afterAll(async () => {
    await bench?.stop()
    at.remove()
  })

  /** Asks over a connection that is refused unless the certificate fits the address. */
  const askSecurely = (origin: string): Promise<number> =>
    new Promise((done, fail) => {
      const asked = request(
        `${bench.server.url}/api/mark`,
        { method: 'POST', ca: certificate.cert, headers: { origin, 'content-type': 'application/json' } },
        (answer) => {
          answer.resume()
          done(answer.statusCode!)
        },
      )
      asked.on('error', fail)
      asked.end('{"kind":"note","fields":{"text":"heard"}}')
    })

  it('is reached by its certificate, takes its own page’s requests and refuses those of its plain address', async () => {
    expect(bench.server.url).toMatch(/^https:\/\/127\.0\.0\.1:\d+$/)
    // 503: understood, but no logger has sent a reading yet.
    expect(await askSecurely(bench.server.url)).toBe(503)
    expect(await askSecurely(bench.server.url.replace('https', 'http'))).toBe(403)
  })
})
