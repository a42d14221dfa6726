import { spawnSync } from 'node:child_process'
import { createHash, randomBytes, sign, X509Certificate } from 'node:crypto'
import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { createServer, type Server } from 'node:http'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { archiveFolder } from '#dashboard/archive/archive-folder.ts'
import { signHead } from '#dashboard/archive/chain-head.ts'
import { makeSigningKey } from '#dashboard/archive/signing-key.ts'
import { stampHead, timeStampFindings } from '#dashboard/archive/time-stamp.ts'
import { Authority } from '#tests/trust/attacks/authority.ts'
import { emptyFolder } from './bench-archive.ts'

const own = mkdtempSync(join(tmpdir(), 'stillhold-authority-'))
const file = (name: string) => join(own, name)
const sha256 = (data: string | Buffer) => createHash('sha256').update(data).digest('hex')
const openssl = (...args: string[]) => {
  const ran = spawnSync('openssl', args, { cwd: own })
  if (ran.status !== 0) throw new Error(String(ran.stderr))
}

interface Signer {
  readonly certificate: X509Certificate
  readonly key: string
}

/** Issues a certificate with openssl: one for time stamps, or one of an authority that issues others. */
function issue(name: string, subject: string, use: 'stamp' | 'authority' | 'mail', by?: string): Signer {
  const usage = {
    stamp: 'basicConstraints=critical,CA:FALSE\nextendedKeyUsage=critical,timeStamping',
    authority: 'basicConstraints=critical,CA:TRUE',
    mail: 'basicConstraints=critical,CA:FALSE\nextendedKeyUsage=emailProtection',
  }[use]
  writeFileSync(file(`${name}.ext`), usage)
  const ec = ['-newkey', 'ec', '-pkeyopt', 'ec_paramgen_curve:prime256v1', '-nodes']
  const [key, query, out] = ['key', 'csr', 'pem'].map((end) => `${name}.${end}`)
  openssl('req', ...ec, '-subj', subject, '-keyout', key, '-out', query)
  const issuer = by === undefined ? ['-signkey', key] : ['-CA', `${by}.pem`, '-CAkey', `${by}.key`]
  openssl('x509', '-req', '-in', query, ...issuer, '-days', '30', '-extfile', `${name}.ext`, '-out', out)
  return { certificate: new X509Certificate(readFileSync(file(out))), key: readFileSync(file(key), 'utf8') }
}

// ITU-T X.690, 8.1: tag, length, content.
function tlv(tag: number, ...parts: readonly (Buffer | string)[]): Buffer {
  const body = Buffer.concat(
    parts.map((part) => (typeof part === 'string' ? Buffer.from(part, 'hex') : part)),
  )
  const [high, low] = [body.length >> 8, body.length & 255]
  const length = body.length < 128 ? [low] : high === 0 ? [0x81, low] : [0x82, high, low]
  return Buffer.concat([Buffer.from([tag, ...length]), body])
}
const sequence = (...parts: readonly (Buffer | string)[]) => tlv(0x30, ...parts)
const oid = (hex: string) => tlv(6, hex)

/** Object identifiers of RFC 3161, RFC 5652 and RFC 5754, in DER. */
const oids = {
  signedData: '2a864886f70d010702',
  timeStamp: '2a864886f70d0109100104',
  contentType: '2a864886f70d010903',
  messageDigest: '2a864886f70d010904',
  sha1: '2b0e03021a',
  sha256: '608648016503040201',
  sha384: '608648016503040202',
  sha512: '608648016503040203',
  ecdsa: '2a8648ce3d040302',
}

const authority = Authority.isThere ? issue('own', '/O=Clock/CN=Test authority', 'stamp') : null!
const text = signHead(2, 'b'.repeat(64), new Date('2026-04-11T09:00:00Z'), makeSigningKey(emptyFolder()))
const publicKey = JSON.parse(text).public_key as string

const forged = {
  status: 0,
  hasToken: true,
  kind: oids.signedData,
  content: oids.timeStamp as string | null,
  signedContent: oids.timeStamp,
  signedInfo: null as Buffer | null,
  hashKind: oids.sha256,
  imprint: sha256(text),
  time: null as string | null,
  nonce: null as string | null,
  accuracy: '',
  digest: 'sha256' as 'sha256' | 'sha384' | 'sha512',
  digestKind: null as string | null,
  hasAttributes: true,
  hasSignature: true,
  signer: authority,
  key: null as string | null,
  included: null as readonly X509Certificate[] | null,
}

/** `20260411093000Z` of a time. */
const generalized = (time: Date | string) =>
  `${new Date(time).toISOString().slice(0, 19).replaceAll(/[-:T]/g, '')}Z`

/** An answer of a time-stamp authority (RFC 3161, 2.4.2; RFC 5652, 5), with what `change` names in it wrong. */
function answer(change: Partial<typeof forged> = {}): Buffer {
  const one = { ...forged, ...change }
  const time = one.time ?? generalized(new Date(Date.parse(one.signer.certificate.validFrom) + 3_600_000))
  const info = sequence(
    tlv(2, '01'),
    oid('2a03'),
    sequence(sequence(oid(one.hashKind), tlv(5)), tlv(4, one.imprint)),
    tlv(2, '07'),
    tlv(24, Buffer.from(time)),
    one.accuracy,
    one.nonce === null ? '' : tlv(2, one.nonce),
  )
  const digest = sequence(oid(one.digestKind ?? oids[one.digest]), tlv(5))
  const hashed = createHash(one.digest)
    .update(one.signedInfo ?? info)
    .digest()
  const attributes = [
    sequence(oid('2a03'), tlv(0x31, oid('2a03'))),
    sequence(oid(oids.contentType), tlv(0x31, oid(one.signedContent))),
    sequence(oid(oids.messageDigest), tlv(0x31, tlv(4, hashed))),
  ]
  const signature = sign(one.digest, tlv(0x31, ...attributes), one.key ?? one.signer.key)
  const signer = sequence(
    tlv(2, '01'),
    sequence(sequence(), tlv(2, '01')),
    digest,
    one.hasAttributes ? tlv(0xa0, ...attributes) : '',
    sequence(oid(oids.ecdsa)),
    one.hasSignature ? tlv(4, signature) : '',
  )
  const certificates = (one.included ?? [one.signer.certificate]).map(({ raw }) => raw)
  const content = one.content === null ? [oid(oids.timeStamp)] : [oid(one.content), tlv(0xa0, tlv(4, info))]
  const signed = sequence(
    tlv(2, '03'),
    tlv(0x31, digest),
    sequence(...content),
    tlv(0xa0, ...certificates),
    tlv(0x31, signer),
  )
  const token = one.hasToken ? sequence(oid(one.kind), tlv(0xa0, signed)) : ''
  return sequence(sequence(tlv(2, Buffer.from([one.status]))), token)
}

const link = (n: number, sealed_at = '2026-04-11T09:00:00Z', public_key = publicKey) => ({
  sha256: 'abcd'[n - 1].repeat(64),
  record: { id: `000${n}-x`, sealed_at, public_key },
})
const two = [link(1), link(2)]

/** What `verify` says of one stored stamp, as `state: text`. */
function findings(
  stamp: Buffer,
  trusted: readonly X509Certificate[] = [],
  { chains = [two] as object[][], head = text as string | null, name = '' } = {},
): string[] {
  const folder = emptyFolder()
  mkdirSync(join(folder, 'timestamps'))
  const at = join(folder, 'timestamps', name || `0002-${sha256(stamp).slice(0, 16)}`)
  writeFileSync(`${at}.tsr`, stamp)
  if (head !== null) writeFileSync(`${at}.json`, head)
  const found = timeStampFindings(archiveFolder(folder), chains as never, trusted)
  return found.map(({ state, text }) => `${state}: ${text}`)
}

const servers: Server[] = []
afterAll(() => {
  for (const server of servers) server.close()
  rmSync(own, { recursive: true, force: true })
})

/** A web address that answers queries with this, and the queries that it got. */
async function answering(reply: (query: Buffer) => Buffer, status = 200) {
  const queries: { type: string | undefined; method: string | undefined; bytes: Buffer }[] = []
  const server = createServer(async (request, response) => {
    const parts: Buffer[] = []
    for await (const part of request) parts.push(part)
    const bytes = Buffer.concat(parts)
    queries.push({ type: request.headers['content-type'], method: request.method, bytes })
    response.statusCode = status
    response.end(reply(bytes))
  })
  servers.push(server)
  await new Promise<void>((done) => server.listen(0, '127.0.0.1', done))
  return { queries, url: `http://127.0.0.1:${(server.address() as { port: number }).port}/` }
}
/** The nonce is before the last member, `certReq TRUE`, which takes three bytes. */
const nonceIn = (query: Buffer) => query.subarray(-11, -3).toString('hex')

describe.skipIf(!Authority.isThere)('stampHead()', () => {
  it('stores the stamp of an authority (openssl) with its head, and verify finds it valid', async () => {
    const real = new Authority(join(own, 'real'), 'Real authority')
    const url = await real.start()
    const folder = emptyFolder()
    try {
      const stamp = await stampHead(archiveFolder(folder), text, url)
      expect(stamp.imprint).toBe(sha256(text))
      const stored = readdirSync(join(folder, 'timestamps'))
      const [json, tsr] = stored.sort().map((name) => readFileSync(join(folder, 'timestamps', name)))
      const name = `0002-${sha256(tsr).slice(0, 16)}`
      expect([stored, json.toString()]).toEqual([[`${name}.json`, `${name}.tsr`], text])
      const trusted = [new X509Certificate(readFileSync(real.certificate))]
      expect(timeStampFindings(archiveFolder(folder), [two] as never, trusted)[0]).toMatchObject({
        state: 'holds',
        text: expect.stringContaining('time stamp: records 1 to 2 existed at '),
      })
    } finally {
      real.stop()
    }
  })

  it('asks as RFC 3161, 2.4.1 says: version 1, the SHA-256 of the head, a positive nonce of 64 bits, certReq', async () => {
    const { queries, url } = await answering((query) => answer({ nonce: nonceIn(query) }))
    for (let n = 0; n < 8; n++) await stampHead(archiveFolder(emptyFolder()), text, url)
    const hash = sequence(sequence(oid(oids.sha256), tlv(5)), tlv(4, sha256(text)))
    for (const { type, method, bytes } of queries) {
      expect([type, method]).toEqual(['application/timestamp-query', 'POST'])
      expect(bytes).toEqual(sequence(tlv(2, '01'), hash, tlv(2, nonceIn(bytes)), tlv(1, 'ff')))
      // Shortest form of a positive number (X.690, 8.3.2): no sign bit, and the first byte is not zero.
      expect(bytes.at(-11)! & 0x81).toBe(1)
    }
    expect(new Set(queries.map(({ bytes }) => nonceIn(bytes))).size).toBe(8)
  })

  it('takes an answer of 64,000 bytes and refuses a longer one', async () => {
    const padded = (bytes: number) => (query: Buffer) => {
      const stamp = answer({ nonce: nonceIn(query) })
      return Buffer.concat([stamp, tlv(4, Buffer.alloc(bytes - stamp.length - 4))])
    }
    const fitting = await answering(padded(64_000))
    expect((await stampHead(archiveFolder(emptyFolder()), text, fitting.url)).imprint).toBe(sha256(text))
    const long = await answering(padded(64_001))
    await expect(stampHead(archiveFolder(emptyFolder()), text, long.url)).rejects.toThrow(
      `no time stamp from ${long.url}: its answer is too long to be a time stamp`,
    )
  })

  it.each<[string, (query: Buffer) => Buffer, number, string]>([
    ['with status 500', () => answer(), 500, 'it answered 500'],
    ['with another nonce', () => answer({ nonce: '0102030405060708' }), 200, 'it stamped other data'],
    ['without a nonce', () => answer(), 200, 'it stamped other data'],
    [
      'of other data',
      (query) => answer({ nonce: nonceIn(query), imprint: sha256('other') }),
      200,
      'it stamped other data',
    ],
    ['of refusal', () => answer({ status: 2 }), 200, 'the authority refused the query'],
    ['of noise', () => randomBytes(500), 200, 'it is not a time stamp, or was changed'],
  ])('refuses an answer %s, and keeps nothing', async (_, reply, status, why) => {
    const { url } = await answering(reply, status)
    const folder = emptyFolder()
    await expect(stampHead(archiveFolder(folder), text, url)).rejects.toMatchObject({
      code: 'no-time-stamp',
      message: `no time stamp from ${url}: ${why}`,
    })
    expect(readdirSync(folder)).toEqual([])
  })

  it('says that an authority cannot be reached', async () => {
    await expect(stampHead(archiveFolder(emptyFolder()), text, 'http://127.0.0.1:1/')).rejects.toThrow(
      /^no time stamp from http:\/\/127\.0\.0\.1:1\/: it cannot be reached \(.+\); check the address and the network$/,
    )
  })
})

describe.skipIf(!Authority.isThere)('timeStampFindings()', () => {
  const named = (certificate: X509Certificate, name: string) =>
    `${name}, certificate ${sha256(certificate.raw).slice(0, 16)}`

  it('says what the stamp proves and who says it, and relies only on a named authority', () => {
    const at = new Date(Date.parse(authority.certificate.validFrom) + 7_200_000)
    const time = generalized(at)
    const minute = `${at.toISOString().slice(0, 16).replace('T', ' ')} UTC`
    const said = `time stamp: records 1 to 2 existed at ${minute}, says ${named(authority.certificate, 'Test authority')}`
    const stamp = answer({ time })
    expect(findings(stamp)).toEqual([
      `note: ${said}; name the authority's certificate with --tsa to rely on it`,
    ])
    expect(findings(stamp, [authority.certificate])).toEqual([`holds: ${said}`])
    const other = issue('other', '/CN=Test authority', 'stamp')
    expect(findings(stamp, [other.certificate])).toEqual([
      `broken: ${said}, which is not the authority named with --tsa`,
    ])
    expect(timeStampFindings(archiveFolder(emptyFolder()), [], [])).toEqual([])
  })

  it('names an authority without a common name by its whole subject', () => {
    const plain = issue('plain', '/O=Clock/OU=Time', 'stamp')
    expect(findings(answer({ signer: plain }))[0]).toContain(
      `says ${named(plain.certificate, 'O=Clock, OU=Time')}; name`,
    )
  })

  it('follows certificates to a trusted authority: each must be issued by the next, and that one may issue', () => {
    const root = issue('root', '/CN=Root', 'authority')
    const middle = issue('middle', '/CN=Middle', 'authority', 'root')
    const leaf = issue('leaf', '/CN=Leaf', 'stamp', 'middle')
    const state = (stamp: Buffer, trusted: Signer) => findings(stamp, [trusted.certificate])[0].split(':')[0]
    const stamp = answer({ signer: leaf, included: [leaf.certificate, middle.certificate] })
    expect([state(stamp, leaf), state(stamp, middle), state(stamp, root)]).toEqual([
      'holds',
      'holds',
      'holds',
    ])
    const short = answer({ signer: leaf })
    expect([state(short, middle), state(short, root)]).toEqual(['holds', 'broken'])
    // Of the same name, with another key.
    const impostor = issue('impostor', '/CN=Root', 'authority')
    expect(state(stamp, impostor)).toBe('broken')
    const whole = answer({ signer: leaf, included: [leaf, middle, root].map((one) => one.certificate) })
    expect(state(whole, impostor)).toBe('broken')
    // A certificate for mail may not issue others.
    const mail = issue('mail', '/CN=Mail', 'mail', 'root')
    const forgery = issue('forgery', '/CN=Forgery', 'stamp', 'mail')
    expect(state(answer({ signer: forgery }), mail)).toBe('broken')
  })

  it.each<[string, Partial<typeof forged>, string]>([
    ['that was refused', { status: 2 }, 'the authority refused the query'],
    ['without a token', { hasToken: false }, 'the authority refused the query'],
    ['with a token of another kind', { kind: oids.timeStamp }, 'it contains no signed data'],
    ['with other content', { content: oids.signedData }, 'it contains no time stamp'],
    ['without content', { content: null }, 'it contains no time stamp'],
    [
      'that signs another kind of content',
      { signedContent: oids.signedData },
      'its signature covers other content',
    ],
    ['that signs another content', { signedInfo: Buffer.from('x') }, 'its signature covers other content'],
    ['with an old hash', { digestKind: oids.sha1 }, 'its signature algorithm is not supported'],
    ['without signed attributes', { hasAttributes: false }, 'its signature algorithm is not supported'],
    ['without a signature', { hasSignature: false }, 'its signature algorithm is not supported'],
    ['without certificates', { included: [] }, 'its signature does not hold'],
    ['of another kind of hash', { hashKind: oids.sha512 }, 'it stamps another kind of hash'],
    ['without a whole time', { time: '202604110900Z' }, 'its time cannot be read'],
    ['in local time', { time: '20260411090000' }, 'its time cannot be read'],
    ['with words around its time', { time: 'at 20260411090000Z' }, 'its time cannot be read'],
    [
      'long before its certificate',
      { time: '20010101000000Z' },
      'the certificate of the authority was not valid at its time',
    ],
    [
      'long after its certificate',
      { time: '21010101000000Z' },
      'the certificate of the authority was not valid at its time',
    ],
    ['of other data', { imprint: sha256('other') }, 'the count it stamps is missing or was changed'],
  ])('refuses a stamp %s', (_, change, why) => {
    const stamp = answer(change)
    expect(findings(stamp)).toEqual([`broken: time stamp 0002-${sha256(stamp).slice(0, 16)}.tsr: ${why}`])
  })

  it('refuses a signature by another key, and by a certificate that is not for time stamps', () => {
    const stranger = issue('stranger', '/CN=Stranger', 'stamp')
    const mail = issue('letters', '/CN=Letters', 'mail')
    for (const change of [{ key: stranger.key }, { signer: mail }])
      expect(findings(answer(change))[0]).toMatch(/: its signature does not hold$/)
    expect(findings(answer().subarray(0, 300))[0]).toMatch(/: it is not a time stamp, or was changed$/)
  })

  it.each<[string, () => Partial<typeof forged>]>([
    ['granted with changes (RFC 3161, 2.4.2)', () => ({ status: 1 })],
    ['with SHA-384', () => ({ digest: 'sha384' })],
    ['with SHA-512', () => ({ digest: 'sha512' })],
    [
      'at the first second of its certificate',
      () => ({ time: generalized(authority.certificate.validFrom) }),
    ],
    ['at the last second of its certificate', () => ({ time: generalized(authority.certificate.validTo) })],
    [
      'signed by the second certificate',
      () => ({ included: [issue('first', '/CN=First', 'stamp').certificate, authority.certificate] }),
    ],
  ])('takes a stamp %s', (_, change) => {
    expect(findings(answer(change()))[0]).toMatch(/^note: time stamp: records 1 to 2 existed at /)
  })

  it('refuses a stamp whose file was changed, and one whose count or records are others', () => {
    const stamp = answer()
    const why = (more: Parameters<typeof findings>[2]) =>
      findings(stamp, [authority.certificate], more).map((said) => said.replace(/time stamp .*\.tsr: /, ''))
    expect(why({ name: '0002-0123456789abcdef' })).toEqual(['broken: it was changed after it was stored'])
    const count = ['broken: the count it stamps is missing or was changed']
    expect([why({ head: null }), why({ head: `${text} ` })]).toEqual([count, count])
    const gone = ['broken: it stamps 2 records whose last is not in this archive']
    expect(why({ chains: [] })).toEqual(gone)
    expect(why({ chains: [[link(1)]] })).toEqual(gone)
    expect(why({ chains: [[link(1), link(3)]] })).toEqual(gone)
    const others = [link(1, undefined, 'another'), link(2, undefined, 'another')]
    expect(why({ chains: [others] })).toEqual(gone)
    expect(why({ chains: [[], others, two] })[0]).toMatch(/^holds: /)
  })

  it('says where a record contradicts the stamp by more than a minute, and nothing within it', () => {
    const start = new Date(authority.certificate.validFrom)
    const stampedMs = start.getTime() + 3_600_000
    const at = (seconds: number) => new Date(stampedMs + seconds * 1000).toISOString()
    const said = (before: number, after: number) => {
      const unread = { sha256: '', record: null }
      const chain = [link(1, at(0)), link(2, at(before)), unread, link(3, at(after))]
      const stamp = answer({ time: `${generalized(at(0)).slice(0, -1)}.000999Z` })
      return findings(stamp, [], { chains: [chain] }).slice(1)
    }
    expect(said(60, -60)).toEqual([])
    expect(said(61, 0)).toEqual([
      expect.stringMatching(
        /^note: 0002-x says it was sealed 2.* UTC, but existed before: the clock was ahead$/,
      ),
    ])
    expect(said(0, -61)).toEqual([
      expect.stringMatching(
        /^note: 0003-x says it was sealed 2.* UTC, but came after the time stamp: the clock was behind$/,
      ),
    ])
    expect(said(-7200, 7200)).toEqual([])
  })

  it('reads thousandths of its second', async () => {
    const time = `${generalized(new Date(Date.parse(authority.certificate.validFrom) + 60_000)).slice(0, -1)}.123456Z`
    const { url } = await answering((query) =>
      answer({ time, accuracy: sequence(tlv(2, '01')).toString('hex'), nonce: nonceIn(query) }),
    )
    const stamp = await stampHead(archiveFolder(emptyFolder()), text, url)
    expect(stamp.time.getUTCMilliseconds()).toBe(123)
  })
})
