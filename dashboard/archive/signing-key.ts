import {
  createPrivateKey,
  createPublicKey,
  generateKeyPairSync,
  type KeyObject,
  sign,
  verify,
} from 'node:crypto'
import { existsSync, readFileSync, statSync } from 'node:fs'
import { join } from 'node:path'
import { ArchiveError } from './archive-error.ts'
import { sha256Hex, writeFileDurably } from './write-durably.ts'

/** Public identity of a key. */
export interface PublicKeyInfo {
  /** The 32 bytes of the Ed25519 public key, base64. */
  readonly base64: string
  /** First 16 hex digits of the SHA-256 of these 32 bytes: the printed form for comparison by eye. */
  readonly fingerprint: string
  readonly pem: string
}

export interface SigningKey {
  readonly public: PublicKeyInfo
  /** Ed25519 signature over the bytes, base64. */
  sign(bytes: Uint8Array | string): string
}

export const signingKeyFile = 'signing-key.pem'
export const publicKeyFile = 'public-key.pem'

/** The 12-byte prefix of a 32-byte Ed25519 key in DER (RFC 8410). */
const spkiPrefix = Buffer.from('302a300506032b6570032100', 'hex')

/** Makes the archive's Ed25519 key pair: private key readable by its owner alone (0600), public key beside it. */
export function makeSigningKey(folder: string): SigningKey {
  const { privateKey } = generateKeyPairSync('ed25519')
  writeFileDurably(
    join(folder, signingKeyFile),
    privateKey.export({ type: 'pkcs8', format: 'pem' }) as string,
    0o600,
  )
  const key = signingKey(privateKey)
  writeFileDurably(join(folder, publicKeyFile), key.public.pem)
  return key
}

/** Reads the archive's key; null when it has none. */
export function readSigningKey(folder: string): SigningKey | null {
  const path = join(folder, signingKeyFile)
  if (!existsSync(path)) return null
  try {
    const privateKey = createPrivateKey(readFileSync(path))
    if (privateKey.asymmetricKeyType !== 'ed25519') throw new Error('it is not an Ed25519 key')
    return signingKey(privateKey)
  } catch (cause) {
    const { code = '', message } = cause as NodeJS.ErrnoException
    // The library's message on an invalid key is for programmers.
    const why = code.startsWith('ERR_OSSL') ? 'it contains no private key' : message
    throw new ArchiveError(
      'key-unreadable',
      path,
      `cannot read the signing key ${path}: ${why}; restore it from a backup`,
      cause,
    )
  }
}

/** True when others on this computer could read the private key. */
export function keyIsExposed(folder: string): boolean {
  if (process.platform === 'win32') return false
  return (statSync(join(folder, signingKeyFile)).mode & 0o077) !== 0
}

/** Public key from 32 bytes in base64. */
export function publicKeyFromBase64(base64: string): PublicKeyInfo {
  return publicKeyInfo(publicKeyObject(base64))
}

/** Public key from PEM. */
export function publicKeyFromPem(pem: string): PublicKeyInfo {
  return publicKeyInfo(createPublicKey(pem))
}

/**
 * True when the signature is this key's over these bytes; false for a malformed key or signature.
 * The base64 must be in canonical form, so that no second text encodes the same signature.
 */
export function signatureHolds(publicKey: string, bytes: Uint8Array | string, signature: string): boolean {
  const raw = Buffer.from(signature, 'base64')
  if (raw.length !== 64 || raw.toString('base64') !== signature) return false
  try {
    return verify(null, asBytes(bytes), publicKeyObject(publicKey), raw)
  } catch {
    return false
  }
}

function signingKey(privateKey: KeyObject): SigningKey {
  return {
    public: publicKeyInfo(createPublicKey(privateKey)),
    sign: (bytes) => sign(null, asBytes(bytes), privateKey).toString('base64'),
  }
}

/** The last parsed key, cached: the records of a chain have the same. */
let readLast: { readonly base64: string; readonly key: KeyObject } | null = null

function publicKeyObject(base64: string): KeyObject {
  if (readLast?.base64 === base64) return readLast.key
  const raw = Buffer.from(base64, 'base64')
  if (raw.length !== 32 || raw.toString('base64') !== base64) {
    throw new RangeError('a public key is 32 bytes in base64')
  }
  const key = createPublicKey({ key: Buffer.concat([spkiPrefix, raw]), format: 'der', type: 'spki' })
  readLast = { base64, key }
  return key
}

function publicKeyInfo(key: KeyObject): PublicKeyInfo {
  const raw = (key.export({ type: 'spki', format: 'der' }) as Buffer).subarray(spkiPrefix.length)
  return {
    base64: raw.toString('base64'),
    fingerprint: sha256Hex(raw).slice(0, 16),
    pem: key.export({ type: 'spki', format: 'pem' }) as string,
  }
}

function asBytes(bytes: Uint8Array | string): Uint8Array {
  return typeof bytes === 'string' ? Buffer.from(bytes, 'utf8') : bytes
}
