import { generateKeyPairSync } from 'node:crypto'
import { once } from 'node:events'
import { chmodSync, mkdirSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { pathToFileURL } from 'node:url'
import { describe, expect, it } from 'vitest'
import { ArchiveError, diskError } from '#dashboard/archive/archive-error.ts'
import { canonicalText } from '#dashboard/archive/canonical-text.ts'
import { dossierInput, printReport } from '#dashboard/archive/print.ts'
import { sealRecord } from '#dashboard/archive/seal-record.ts'
import {
  keyIsExposed,
  makeSigningKey,
  publicKeyFromBase64,
  publicKeyFromPem,
  readSigningKey,
  signatureHolds,
} from '#dashboard/archive/signing-key.ts'
import { startThread } from '#dashboard/archive/start-thread.ts'
import { flushFile, keepByHash, sha256Hex, writeFileDurably } from '#dashboard/archive/write-durably.ts'
import { archiveIn, emptyFolder, holdDraft, sealedWork, writeRecording } from './bench-archive.ts'

describe('keys', () => {
  it('makeSigningKey() writes both keys, and the fingerprint is 16 digits of the SHA-256 of 32 bytes', () => {
    const folder = emptyFolder()
    const key = makeSigningKey(folder)
    const raw = Buffer.from(key.public.base64, 'base64')
    expect([raw.length, key.public.fingerprint]).toEqual([32, sha256Hex(raw).slice(0, 16)])
    expect(readFileSync(join(folder, 'public-key.pem'), 'utf8')).toBe(key.public.pem)
    for (const read of [
      readSigningKey(folder)!.public,
      publicKeyFromPem(key.public.pem),
      publicKeyFromBase64(key.public.base64),
    ])
      expect(read).toEqual(key.public)
    expect(readSigningKey(emptyFolder())).toBeNull()
    expect(keyIsExposed(folder)).toBe(false)
    if (process.platform === 'win32') return
    for (const mode of [0o640, 0o604, 0o601]) {
      chmodSync(join(folder, 'signing-key.pem'), mode)
      expect(keyIsExposed(folder)).toBe(true)
    }
    expect(archiveIn(folder).notices).toEqual([
      'signing-key.pem can be read by others on this computer; run: chmod 600 on it',
    ])
  })
  it('readSigningKey() refuses a key of another kind', () => {
    const folder = emptyFolder()
    const { privateKey } = generateKeyPairSync('x25519')
    const path = join(folder, 'signing-key.pem')
    writeFileSync(path, privateKey.export({ type: 'pkcs8', format: 'pem' }))
    expect(() => readSigningKey(folder)).toThrow(
      `cannot read the signing key ${path}: it is not an Ed25519 key; restore it from a backup`,
    )
    rmSync(path)
    mkdirSync(path)
    expect(() => readSigningKey(folder)).toThrow(/: EISDIR.*; restore it from a backup$/)
  })
  it('signatureHolds() takes one text of a signature and of a key', () => {
    const key = makeSigningKey(emptyFolder())
    const signature = key.sign('text')
    expect(signatureHolds(key.public.base64, 'text', signature)).toBe(true)
    expect(signatureHolds(key.public.base64, Buffer.from('text'), signature)).toBe(true)
    const raw = Buffer.from(signature, 'base64')
    for (const other of [
      signature.slice(0, -2),
      `${signature} `,
      raw.subarray(0, 63).toString('base64'),
      Buffer.concat([raw, Buffer.alloc(1)]).toString('base64'),
      '',
    ])
      expect(signatureHolds(key.public.base64, 'text', other)).toBe(false)
    for (const other of [`${key.public.base64} `, 'AAAA', '', Buffer.alloc(33).toString('base64')])
      expect(signatureHolds(other, 'text', signature)).toBe(false)
    expect(() => publicKeyFromBase64('AAAA')).toThrow('a public key is 32 bytes in base64')
  })
  it('an archive without its key prints nothing, and its recording that is gone is named', () => {
    const { folder, ids } = sealedWork('F1')
    const kept = archiveIn(folder).keptRecord(ids[0])
    expect(() => printReport(folder, { ...kept, recording: '/gone/a.lp' }, '0')).toThrow(
      'cannot read the recording /gone/a.lp: it does not exist; check the path',
    )
    rmSync(join(folder, 'signing-key.pem'))
    expect(() => printReport(folder, kept, '0')).toThrow(
      `the signing key in ${folder} is missing: restore it from a backup`,
    )
    expect(() =>
      dossierInput([], { system: { name: 'plane', text: 'no system' }, heads: [] }, '', '0'),
    ).toThrow(/^no dossier: the system file of plane cannot be read: .+/)
  })
})

it('startThread() finds a thread of the build beside its caller or above it, and says what is missing', async () => {
  const folder = emptyFolder()
  mkdirSync(join(folder, 'session'))
  const said = "require('node:worker_threads').parentPort.postMessage("
  writeFileSync(join(folder, 'session', 'beside.js'), `${said}'beside')`)
  writeFileSync(join(folder, 'beside.js'), `${said}'not this')`)
  writeFileSync(join(folder, 'above.js'), `${said}'above')`)
  const caller = pathToFileURL(join(folder, 'session', 'main.js')).href
  for (const name of ['beside', 'above']) {
    const thread = startThread(caller, name)
    expect(await once(thread, 'message')).toEqual([name])
    await thread.terminate()
  }
  expect(() => startThread(caller, 'none')).toThrow(
    'none.js is missing beside the program: run npm run build',
  )
})

describe('files', () => {
  it('writeFileDurably() replaces what is there and leaves nothing half written', () => {
    const folder = emptyFolder()
    const path = join(folder, 'a')
    for (const bytes of ['one', Buffer.from('two')]) writeFileDurably(path, bytes)
    expect(readFileSync(path, 'utf8')).toBe('two')
    rmSync(path)
    mkdirSync(join(path, 'b'), { recursive: true })
    expect(() => writeFileDurably(path, 'x')).toThrow(`cannot write ${path}: it is a folder; name a file`)
    expect(readdirSync(folder)).toEqual(['a'])
    expect(() => writeFileDurably(join(folder, 'none', 'a'), 'x')).toThrow(
      /it does not exist; check the path$/,
    )
    expect(() => flushFile(join(folder, 'none'))).toThrow(/ENOENT/)
  })
  it('keepByHash() copies any length, replaces a damaged copy, and leaves nothing half written', () => {
    const folder = emptyFolder()
    for (const length of [0, 1, 1 << 20, (1 << 20) + 1, 3_000_000]) {
      const bytes = Buffer.alloc(length, 'stillhold')
      const path = writeRecording(emptyFolder(), 'a', bytes.toString('latin1'))
      for (let n = 0; n < 2; n++)
        expect(keepByHash(path, folder, '.lp')).toEqual({ sha256: sha256Hex(bytes), bytes: length })
      const kept = join(folder, `${sha256Hex(bytes)}.lp`)
      expect(readFileSync(kept).equals(bytes)).toBe(true)
      writeFileSync(kept, 'damaged')
      keepByHash(path, folder, '.lp')
      expect(readFileSync(kept).equals(bytes)).toBe(true)
    }
    expect(readdirSync(folder)).toHaveLength(5)
    expect(() => keepByHash(join(folder, 'none'), folder, '')).toThrow(/^cannot keep /)
    expect(readdirSync(folder)).toHaveLength(5)
  })
  it('diskError() names a cause that has no code', () => {
    expect(diskError('write', '/a', 'why').message).toBe('cannot write /a: why')
    expect(diskError('write', '/a', undefined).message).toBe('cannot write /a: undefined')
    expect(new ArchiveError('disk', '/a', 'x')).not.toHaveProperty('cause')
  })
  it('canonicalText() refuses half a surrogate in a name, and a class without a name', () => {
    expect(() => canonicalText({ a: { '\ud800': 1 } })).toThrow(
      '$.a has a name with half of a surrogate pair',
    )
    const strange = Object.create({ constructor: undefined })
    expect(() => canonicalText({ a: strange })).toThrow('$.a is a class object, not plain data')
    expect(canonicalText(Object.assign(Object.create(null), { a: 1 }))).toBe('{"a":1}')
  })
})

it.each([
  ['Left feed, 10 psi!', '0007-left-feed-10-psi'],
  ['Réservoir nº 2', '0007-re-servoir-no-2'],
  ['--- ', '0007-record'],
  ['x'.repeat(60), `0007-${'x'.repeat(48)}`],
  [`${'x'.repeat(47)} y`, `0007-${'x'.repeat(47)}`],
])('sealRecord() of %j makes the id %s', (subject, id) => {
  const draft = holdDraft(null, { kind: 'work', result: { subject } })
  const key = makeSigningKey(emptyFolder())
  const { record } = sealRecord(
    draft,
    { recording: null, photos: [] },
    { sequence: 6, sha256: null },
    key,
    '0',
    new Date(0),
  )
  expect(record.id).toBe(id)
})
