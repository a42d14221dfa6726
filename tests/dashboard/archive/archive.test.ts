import { createHash } from 'node:crypto'
import { existsSync, readdirSync, readFileSync, rmSync, statSync, truncateSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { openArchive } from '#dashboard/archive/archive.ts'
import { recordSignatureHolds } from '#dashboard/archive/seal-record.ts'
import { archiveIn, emptyFolder, holdDraft, tinyRecording, writeRecording } from './bench-archive.ts'

const sha256 = (data: string | Uint8Array) => createHash('sha256').update(data).digest('hex')

describe('seal', () => {
  it('seal(draft) numbers records from 1 and names the subject in the id', () => {
    const archive = archiveIn(emptyFolder())
    expect(archive.seal(holdDraft(null)).id).toBe('0001-left-feed-10psi')
    const work = holdDraft(null, { kind: 'work', result: { fitting: 'F07', action: 'retighten' } })
    expect(archive.seal(work).id).toBe('0002-f07')
  })

  it('seal(draft) chains each record to the SHA-256 of the file before it', () => {
    const folder = emptyFolder()
    const archive = archiveIn(folder)
    const first = archive.seal(holdDraft(null))
    const second = archive.seal(holdDraft(null))
    expect(first.previous_sha256).toBeNull()
    expect(second.previous_sha256).toBe(sha256(readFileSync(join(folder, 'records', `${first.id}.json`))))
  })

  it('seal(draft) keeps the recording byte for byte under its own hash, and survives deletion of the original', () => {
    const folder = emptyFolder()
    const archive = archiveIn(folder)
    const path = writeRecording(emptyFolder(), 'left-feed.lp', tinyRecording)
    const record = archive.seal(holdDraft(path))
    rmSync(path)
    expect(record.recording).toEqual({
      name: 'left-feed.lp',
      sha256: sha256(tinyRecording),
      bytes: Buffer.byteLength(tinyRecording),
    })
    expect(readFileSync(archive.recordingPath(record.id)!, 'utf8')).toBe(tinyRecording)
  })

  it('seal(draft) keeps photos as files named by their hash', () => {
    const archive = archiveIn(emptyFolder())
    const bytes = new Uint8Array([0xff, 0xd8, 0xff, 0xe0])
    const record = archive.seal(holdDraft(null, { photos: [{ name: 'sump drain.jpg', bytes }] }))
    expect(record.photos).toEqual([{ name: 'sump drain.jpg', sha256: sha256(bytes), bytes: 4 }])
    expect(new Uint8Array(readFileSync(archive.photoPath(sha256(bytes))!))).toEqual(bytes)
  })

  it('seal(draft) signs under the public key the record names', () => {
    const archive = archiveIn(emptyFolder())
    const record = archive.seal(holdDraft(null))
    expect(record.public_key).toBe(archive.publicKey().base64)
    expect(recordSignatureHolds(record)).toBe(true)
    expect(recordSignatureHolds({ ...record, operator: 'C. D.' })).toBe(false)
  })

  it('seal(draft) refuses a result that JSON would write as something else, and seals nothing', () => {
    const archive = archiveIn(emptyFolder())
    const draft = holdDraft(null)
    expect(() => archive.seal({ ...draft, result: { ...draft.result, seconds: Number.NaN } })).toThrow(
      '$.result.seconds is NaN, which JSON cannot say',
    )
    expect(() => archive.seal({ ...draft, result: { later: () => 1 } })).toThrow('$.result.later is function')
    expect(archive.list()).toEqual([])
  })

  it('seal(draft) names the recording that cannot be read, and seals nothing', () => {
    const archive = archiveIn(emptyFolder())
    const path = join(emptyFolder(), 'gone.lp')
    expect(() => archive.seal(holdDraft(path))).toThrow(
      `cannot keep ${path}: it does not exist; check the path`,
    )
    expect(archive.list()).toEqual([])
  })

  it('the private key file is readable by its owner alone', () => {
    const folder = emptyFolder()
    archiveIn(folder)
    if (process.platform !== 'win32') {
      expect(statSync(join(folder, 'signing-key.pem')).mode & 0o777).toBe(0o600)
    }
  })
})

describe('list, get, evidence', () => {
  it('list(filter) combines kind, verdict, section and words', () => {
    const archive = archiveIn(emptyFolder())
    const draft = holdDraft(null)
    archive.seal(draft)
    archive.seal(holdDraft(null, { result: { ...draft.result, verdict: 'fail' }, note: 'Sun on the wing' }))
    archive.seal(holdDraft(null, { kind: 'work', result: { fitting: 'F07', section: 'right-feed' } }))
    const ids = (filter: Parameters<typeof archive.list>[0]) =>
      archive.list(filter).map((each) => each.sequence)
    expect(ids({})).toEqual([3, 2, 1])
    expect(ids({ verdict: 'fail' })).toEqual([2])
    expect(ids({ kind: 'hold' })).toEqual([2, 1])
    expect(ids({ section: 'right-feed' })).toEqual([3])
    expect(ids({ text: 'SUN wing' })).toEqual([2])
    expect(ids({ text: 'sun', verdict: 'pass' })).toEqual([])
  })

  it('get(id) takes the id or the number, and names what it does not have', () => {
    const folder = emptyFolder()
    const archive = archiveIn(folder)
    const record = archive.seal(holdDraft(null))
    expect(archive.get(record.id)).toEqual(record)
    expect(archive.get('1')).toEqual(record)
    expect(() => archive.get('7')).toThrow(`no record 7 in ${folder}: see the list of records`)
  })

  it('evidence() gives every record in the order it was sealed', () => {
    const archive = archiveIn(emptyFolder())
    for (let i = 0; i < 12; i++) archive.seal(holdDraft(null))
    expect(archive.evidence().map((record) => record.sequence)).toEqual([
      1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12,
    ])
  })
})

describe('a second program', () => {
  it('openArchive(folder) refuses while another has it, and says who', () => {
    const folder = emptyFolder()
    archiveIn(folder)
    expect(() => archiveIn(folder)).toThrow(
      new RegExp(
        `^archive .* is in use by process ${process.pid} on .* stop that program or choose another folder`,
      ),
    )
    rmSync(join(folder, 'lock.holder'))
    expect(() => archiveIn(folder)).toThrow(' is in use by another program: stop that program')
  })

  it('openArchive(folder) takes over what a dead process left behind', () => {
    const folder = emptyFolder()
    archiveIn(folder).close()
    writeFileSync(join(folder, 'lock.holder'), JSON.stringify({ pid: 1, host: 'bench', since: 'yesterday' }))
    expect(archiveIn(folder).list()).toEqual([])
  })

  it('openArchive(folder, readOnly) reads beside a running program and refuses to seal', () => {
    const folder = emptyFolder()
    const writer = archiveIn(folder)
    const record = writer.seal(holdDraft(null))
    const reader = archiveIn(folder, { readOnly: true })
    expect(reader.get(record.id)).toEqual(record)
    expect(() => reader.seal(holdDraft(null))).toThrow('the archive was opened for reading only')
  })

  it('openArchive(folder, readOnly) names a folder that is no archive and makes nothing there', () => {
    const folder = emptyFolder()
    expect(() => openArchive(folder, { programVersion: '0', readOnly: true })).toThrow(
      `no archive at ${folder}`,
    )
    expect(readdirSync(folder)).toEqual([])
  })
})

describe('damage', () => {
  function sealedFolder(): { folder: string; ids: string[] } {
    const folder = emptyFolder()
    const archive = archiveIn(folder)
    const ids = [1, 2, 3].map(() => archive.seal(holdDraft(null)).id)
    archive.close()
    return { folder, ids }
  }

  for (const [name, damage] of [
    ['deleted', (path: string) => rmSync(path)],
    ['overwritten with text', (path: string) => writeFileSync(path, 'not a database, just text '.repeat(99))],
    ['cut in the middle', (path: string) => truncateSync(path, 5000)],
    ['empty', (path: string) => truncateSync(path, 0)],
    [
      'a page zeroed',
      (path: string) => {
        const bytes = readFileSync(path)
        writeFileSync(path, bytes.fill(0, 4096, 8192))
      },
    ],
  ] as const) {
    it(`openArchive(folder) rebuilds an index ${name} from the record files`, () => {
      const { folder, ids } = sealedFolder()
      damage(join(folder, 'index.sqlite'))
      const archive = archiveIn(folder)
      expect(archive.evidence().map((record) => record.id)).toEqual(ids)
      expect(archive.seal(holdDraft(null)).sequence).toBe(4)
    })
  }

  it('openArchive(folder) finds a record whose file was written just before the power went', () => {
    const { folder, ids } = sealedFolder()
    const before = readFileSync(join(folder, 'index.sqlite'))
    const archive = archiveIn(folder)
    const last = archive.seal(holdDraft(null)).id
    archive.close()
    writeFileSync(join(folder, 'index.sqlite'), before)
    expect(
      archiveIn(folder)
        .evidence()
        .map((record) => record.id),
    ).toEqual([...ids, last])
  })

  it('openArchive(folder) removes a half-written record, which was never sealed', () => {
    const { folder, ids } = sealedFolder()
    const half = join(folder, 'records', '0004-left-feed-10psi.json.0011aabbccdd.tmp')
    writeFileSync(half, '{"stillhold_rec')
    const archive = archiveIn(folder)
    expect(existsSync(half)).toBe(false)
    expect(archive.evidence()).toHaveLength(ids.length)
  })

  it('openArchive(folder) puts back a record file that was deleted or edited, and says so', () => {
    const { folder, ids } = sealedFolder()
    const paths = ids.map((id) => join(folder, 'records', `${id}.json`))
    const [first, second] = paths.map((path) => readFileSync(path, 'utf8'))
    rmSync(paths[0])
    writeFileSync(paths[1], second.replace('"pass"', '"fail"'))
    const archive = archiveIn(folder)
    expect(readFileSync(paths[0], 'utf8')).toBe(first)
    expect(readFileSync(paths[1], 'utf8')).toBe(second)
    expect(archive.notices).toEqual([
      `${ids[1]}: the record file was changed (its signature does not hold); restored from the index, see damaged/`,
      `${ids[0]}: the record file was missing; restored from the index`,
    ])
    expect(readdirSync(join(folder, 'damaged'))).toEqual([`${ids[1]}.json`])
  })

  it('openArchive(folder) without the key of its records says how to go on', () => {
    const { folder } = sealedFolder()
    rmSync(join(folder, 'signing-key.pem'))
    expect(() => archiveIn(folder)).toThrow(
      /signing-key\.pem is missing .* restore it from a backup, or begin/,
    )
  })
})
