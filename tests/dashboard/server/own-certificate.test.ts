import { X509Certificate } from 'node:crypto'
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
