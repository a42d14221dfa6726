import { createHash, randomBytes, verify, X509Certificate } from 'node:crypto'
import { existsSync, readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { ArchiveError } from './archive-error.ts'
import { type ArchiveFolder, makeFolder } from './archive-folder.ts'
import { readHead } from './chain-head.ts'
import { type Der, der, derTag, readDer } from './der.ts'
import { broken, type Finding, holds, note } from './finding.ts'
import { utcMinute } from './page/figure-words.ts'
import type { ChainLink } from './read-chain.ts'
import { sha256Hex, writeFileDurably } from './write-durably.ts'

/** Object identifiers in hexadecimal DER form. */
const oids = {
  sha256: '608648016503040201',
  signedData: '2a864886f70d010702',
  tstInfo: '2a864886f70d0109100104',
  contentType: '2a864886f70d010903',
  messageDigest: '2a864886f70d010904',
} as const
const digests: Readonly<Record<string, string>> = {
  [oids.sha256]: 'sha256',
  '608648016503040202': 'sha384',
  '608648016503040203': 'sha512',
}
const timeStamping = '1.3.6.1.5.5.7.3.8'

/** Maximum size of an answer, [bytes]. */
const mostAnswerBytes = 64_000
const patienceMs = 20_000

/** Content of a time-stamp token with a valid signature. */
export interface TimeStamp {
  readonly time: Date
  /** SHA-256 of the stamped data, hexadecimal. */
  readonly imprint: string
  readonly nonce: string | null
  readonly authority: X509Certificate
  /** Certificates included in the token. */
  readonly chain: readonly X509Certificate[]
}

/**
 * Asks a time-stamp authority to sign that the chain's present head exists, and stores the answer with the archive.
 * *Source*: RFC 3161, Time-Stamp Protocol, 2.4 and 3.4.
 *
 * @param head text of the head
 * @throws ArchiveError when there is no answer, or no valid time stamp of this head
 */
export async function stampHead(paths: ArchiveFolder, head: string, url: string): Promise<TimeStamp> {
  const refuse = (why: string) => new ArchiveError('no-time-stamp', url, `no time stamp from ${url}: ${why}`)
  const nonce = randomBytes(8)
  nonce.writeUInt8((nonce.readUInt8() & 0x7f) | 1)
  let answer: Buffer
  try {
    const response = await fetch(url, {
      method: 'POST',
      headers: { 'content-type': 'application/timestamp-query' },
      body: new Uint8Array(request(sha256Hex(head), nonce)),
      signal: AbortSignal.timeout(patienceMs),
    })
    if (!response.ok) throw refuse(`it answered ${response.status}`)
    answer = Buffer.from(await response.arrayBuffer())
  } catch (cause) {
    if (cause instanceof ArchiveError) throw cause
    throw refuse(`it cannot be reached (${(cause as Error).message}); check the address and the network`)
  }
  if (answer.length > mostAnswerBytes) throw refuse('its answer is too long to be a time stamp')
  let stamp: TimeStamp
  try {
    stamp = readTimeStamp(answer)
  } catch (cause) {
    throw refuse((cause as Error).message)
  }
  if (stamp.imprint !== sha256Hex(head) || stamp.nonce !== nonce.toString('hex'))
    throw refuse('it stamped other data')
  makeFolder(folderOf(paths))
  const name = `${String(readHead(head)?.count ?? 0).padStart(4, '0')}-${hashInName(answer)}`
  // A stamp is worthless without its data: write the data first.
  writeFileDurably(join(folderOf(paths), `${name}.json`), head)
  writeFileDurably(join(folderOf(paths), `${name}.tsr`), answer)
  return stamp
}

/**
 * Checks the time stamps of an archive offline: each proves that the records counted by its head
 * existed at its time. Reports records whose own time contradicts that.
 *
 * @param trusted certificates of authorities that the user trusts; empty when none was given
 */
export function timeStampFindings(
  paths: ArchiveFolder,
  chains: readonly (readonly ChainLink[])[],
  trusted: readonly X509Certificate[],
): Finding[] {
  const folder = folderOf(paths)
  const names = existsSync(folder) ? readdirSync(folder).filter((name) => name.endsWith('.tsr')) : []
  return names.sort().flatMap((name): Finding[] => {
    const headPath = join(folder, name.replace(/\.tsr$/, '.json'))
    const text = existsSync(headPath) ? readFileSync(headPath, 'utf8') : ''
    const head = readHead(text)
    const wrong = (why: string) => [broken(`time stamp ${name}: ${why}`)]
    let stamp: TimeStamp
    try {
      const answer = readFileSync(join(folder, name))
      // The authority does not sign every byte of its answer; the hash in the file name covers the rest.
      if (!name.endsWith(`-${hashInName(answer)}.tsr`)) return wrong('it was changed after it was stored')
      stamp = readTimeStamp(answer)
    } catch (cause) {
      return wrong((cause as Error).message)
    }
    if (head === null || stamp.imprint !== sha256Hex(text))
      return wrong('the count it stamps is missing or was changed')
    const links = chains.find((chain) => chain[0]?.record?.public_key === head.public_key) ?? []
    const last = links[head.count - 1]
    if (last === undefined || last.sha256 !== head.last_sha256)
      return wrong(`it stamps ${head.count} records whose last is not in this archive`)
    const time = stamp.time.toISOString()
    const by = `${commonName(stamp.authority)}, certificate ${stamp.authority.fingerprint256.replaceAll(':', '').slice(0, 16).toLowerCase()}`
    const statement = `time stamp: records 1 to ${head.count} existed at ${utcMinute(time)}, says ${by}`
    const first =
      trusted.length === 0
        ? note(`${statement}; name the authority's certificate with --tsa to rely on it`)
        : isTrusted(stamp, trusted)
          ? holds(statement)
          : broken(`${statement}, which is not the authority named with --tsa`)
    return [first, ...contradictions(links, head.count, stamp.time)]
  })
}

/** Records whose clock was wrong according to the time stamp. */
function contradictions(links: readonly ChainLink[], count: number, time: Date): Finding[] {
  const slackMs = 60_000
  return links.flatMap(({ record }, i) => {
    if (record === null) return []
    const aheadMs = Date.parse(record.sealed_at) - time.getTime()
    if (i < count && aheadMs > slackMs)
      return [
        note(
          `${record.id} says it was sealed ${utcMinute(record.sealed_at)}, but existed before: the clock was ahead`,
        ),
      ]
    if (i >= count && aheadMs < -slackMs)
      return [
        note(
          `${record.id} says it was sealed ${utcMinute(record.sealed_at)}, but came after the time stamp: the clock was behind`,
        ),
      ]
    return []
  })
}

const hashInName = (answer: Buffer): string => sha256Hex(answer).slice(0, 16)
const folderOf = ({ folder }: ArchiveFolder): string => join(folder, 'timestamps')

/** A query for this SHA-256; requests the authority's certificate. */
function request(sha256: string, nonce: Buffer): Buffer {
  const algorithm = der(derTag.sequence, der(derTag.oid, Buffer.from(oids.sha256, 'hex')), der(derTag.null))
  const imprint = der(derTag.sequence, algorithm, der(derTag.bytes, Buffer.from(sha256, 'hex')))
  const version = der(derTag.integer, Buffer.from([1]))
  return der(derTag.sequence, version, imprint, der(derTag.integer, nonce), Buffer.from([1, 1, 255]))
}

/**
 * Reads an answer of a time-stamp authority and checks its signature with the included certificate.
 * *Source*: RFC 3161, 2.4.2; RFC 5652, Cryptographic Message Syntax, 5.
 *
 * @throws Error in one plain sentence
 */
function readTimeStamp(answer: Buffer): TimeStamp {
  try {
    const [status, token] = inner(readDer(answer)[0])
    if (!token || bodyOf(inner(status)[0]).readUInt8(0) > 1)
      throw new Error('the authority refused the query')
    const [type, wrapped] = inner(token)
    if (type?.body.toString('hex') !== oids.signedData || !wrapped)
      throw new Error('it contains no signed data')
    const parts = inner(inner(wrapped)[0])
    const [contentType, content] = inner(parts[2])
    if (contentType?.body.toString('hex') !== oids.tstInfo || !content)
      throw new Error('it contains no time stamp')
    const info = bodyOf(inner(content)[0])
    const chain = parts
      .filter(({ tag }) => tag === 0xa0)
      .flatMap((certificates) => readDer(certificates.body))
      .map(({ raw }) => new X509Certificate(raw))
    const signer = inner(inner(parts.at(-1))[0])
    const authority = signerOf(signer, info, chain)
    const fields = inner(readDer(info)[0])
    const [, , imprint, , time] = fields
    const [algorithm, hash] = inner(imprint)
    if (bodyOf(inner(algorithm)[0]).toString('hex') !== oids.sha256)
      throw new Error('it stamps another kind of hash')
    const genTime = readTime(bodyOf(time).toString('latin1'))
    if (genTime < new Date(authority.validFrom) || genTime > new Date(authority.validTo))
      throw new Error('the certificate of the authority was not valid at its time')
    const nonce = fields.slice(5).find(({ tag }) => tag === derTag.integer)
    return {
      time: genTime,
      imprint: bodyOf(hash).toString('hex'),
      nonce: nonce?.body.toString('hex') ?? null,
      authority,
      chain,
    }
  } catch (cause) {
    const { code, message } = cause as NodeJS.ErrnoException
    if (cause instanceof RangeError || cause instanceof TypeError || code)
      throw new Error('it is not a time stamp, or was changed')
    throw new Error(message)
  }
}

/** The included certificate whose key signed this. @throws Error when there is none */
function signerOf(signer: readonly Der[], info: Buffer, chain: readonly X509Certificate[]): X509Certificate {
  const digest = digests[bodyOf(inner(signer[2])[0]).toString('hex')]
  const attributes = signer.find(({ tag }) => tag === 0xa0)
  const signature = signer.find(({ tag }) => tag === derTag.bytes)
  if (digest === undefined || !attributes || !signature)
    throw new Error('its signature algorithm is not supported')
  const value = (oid: string): Buffer | null => {
    for (const attribute of readDer(attributes.body)) {
      const [name, values] = inner(attribute)
      if (bodyOf(name).toString('hex') === oid) return bodyOf(inner(values)[0])
    }
    return null
  }
  const hash = createHash(digest).update(info).digest()
  if (
    value(oids.messageDigest)?.equals(hash) !== true ||
    value(oids.contentType)?.toString('hex') !== oids.tstInfo
  )
    throw new Error('its signature covers other content')
  const signed = Buffer.concat([Buffer.from([derTag.set]), attributes.raw.subarray(1)])
  const found = chain.find(
    (certificate) =>
      certificate.keyUsage?.includes(timeStamping) &&
      verify(digest, signed, certificate.publicKey, signature.body),
  )
  if (!found) throw new Error('its signature does not hold')
  return found
}

/** Whether the authority's certificate is trusted or chains to a trusted one. */
function isTrusted({ authority, chain }: TimeStamp, trusted: readonly X509Certificate[]): boolean {
  const known = [...trusted, ...chain]
  let certificate: X509Certificate | undefined = authority
  while (certificate !== undefined) {
    const last: X509Certificate = certificate
    if (trusted.some(({ fingerprint256 }) => fingerprint256 === last.fingerprint256)) return true
    const issuer = known.findIndex((each) => each.ca && last.checkIssued(each) && last.verify(each.publicKey))
    // Each is taken once, since certificates can issue one another in a circle.
    certificate = known.splice(issuer, issuer < 0 ? 0 : 1)[0]
  }
  return false
}

/** @throws RangeError when the value is missing */
function bodyOf(value: Der | undefined): Buffer {
  if (value === undefined) throw new RangeError('a missing value')
  return value.body
}

const inner = (value: Der | undefined): Der[] => readDer(bodyOf(value))

/** `20261130151500Z`, possibly with decimals of a second. */
function readTime(text: string): Date {
  const parts = /^(\d{4})(\d\d)(\d\d)(\d\d)(\d\d)(\d\d)(\.\d+)?Z$/.exec(text)
  if (!parts) throw new Error('its time cannot be read')
  const [, year, month, day, hour, minute, second, fraction = ''] = parts
  return new Date(`${year}-${month}-${day}T${hour}:${minute}:${second}${fraction.slice(0, 4)}Z`)
}

function commonName({ subject }: X509Certificate): string {
  return /^CN=(.*)$/m.exec(subject)?.[1] ?? subject.replaceAll('\n', ', ')
}
