import {
  copyFileSync,
  existsSync,
  mkdirSync,
  readdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { archiveFolder, sequenceOf } from '#dashboard/archive/archive-folder.ts'
import { canonicalText } from '#dashboard/archive/canonical-text.ts'
import { backupArchive } from '#dashboard/archive/copy-archive.ts'
import { readChain } from '#dashboard/archive/read-chain.ts'
import { beginChain, rebuildIndex } from '#dashboard/archive/renew-archive.ts'
import { publicKeyFromBase64, readSigningKey } from '#dashboard/archive/signing-key.ts'
import { openSqlite } from '#dashboard/archive/store/open-sqlite.ts'
import { sha256Hex } from '#dashboard/archive/write-durably.ts'
import { archiveIn, emptyFolder, sealedWork, workDraft } from './bench-archive.ts'

const options = { programVersion: '0.0.0-test' }
const removeIndex = (folder: string) => {
  for (const side of ['', '-wal', '-shm']) rmSync(join(folder, `index.sqlite${side}`), { force: true })
}
const changeIndex = (folder: string, sql: string) => {
  const database = openSqlite(join(folder, 'index.sqlite'))
  database.exec(sql)
  database.close()
}

describe('openArchive() reconciles its index with the record files', () => {
  it.each<[string, (made: ReturnType<typeof sealedWork>) => void, RegExp[]]>([
    [
      'a text of the index changed',
      ({ folder }) =>
        changeIndex(folder, `UPDATE record SET sha256 = '${'0'.repeat(64)}' WHERE sequence = 2`),
      [/^0002-f2: the index differed from the record file; updated from the file$/],
    ],
    [
      'a file gone and its copy damaged',
      ({ folder, file, ids }) => {
        rmSync(file(ids[2]))
        rmSync(join(folder, 'head.json'))
        changeIndex(folder, `UPDATE record SET text = '{}' WHERE sequence = 3`)
        writeFileSync(join(folder, 'head.json'), headOf(folder, 2))
      },
      [/^0003-f3: no record file, and its copy in the index is damaged; removed from the index$/],
    ],
    [
      'a file that is not UTF-8 and no copy',
      ({ folder, file, ids }) => {
        writeFileSync(file(ids[1]), Buffer.from([0xff]))
        removeIndex(folder)
      },
      [/^0002-f2: not UTF-8 text; run stillhold verify on the archive, and restore the file from a backup$/],
    ],
    [
      'a file that is no record, with its copy',
      ({ file, ids }) => writeFileSync(file(ids[1]), '{'),
      [/^0002-f2: the record file was changed \(not JSON.*\); restored from the index, see damaged\/$/],
    ],
    [
      'a record under the name of another',
      ({ file, ids }) => copyFileSync(file(ids[0]), file(ids[1])),
      [
        /^0002-f2: the record file was changed \(its id is 0001-f1\); restored from the index, see damaged\/$/,
      ],
    ],
  ])('with %s', (_, damage, notices) => {
    const made = sealedWork('F1', 'F2', 'F3')
    damage(made)
    let said: readonly string[]
    try {
      said = archiveIn(made.folder).notices
    } catch {
      said = archiveIn(made.folder, { readOnly: true }).notices
    }
    expect(said.slice(0, notices.length)).toEqual(notices.map((each) => expect.stringMatching(each)))
  })

  /** A head of the archive's own over its first records. */
  function headOf(folder: string, count: number): string {
    const key = readSigningKey(folder)!
    const last = readChain(archiveFolder(folder), '')[count - 1].sha256
    const unsigned = {
      ...{ stillhold_head: 1, count, last_sha256: last, time: '2026-04-11T09:00:00.000Z' },
      public_key: key.public.base64,
    }
    return canonicalText({ ...unsigned, signature: key.sign(canonicalText(unsigned)) })
  }

  it('for reading beside a program: tells what it would restore, and changes no file', () => {
    const { folder, ids, file } = sealedWork('F1', 'F2')
    writeFileSync(file(ids[1]), '{')
    const before = readdirSync(folder).sort()
    const reader = archiveIn(folder, { readOnly: true })
    expect(reader.notices.join()).toContain('0002-f2: not JSON')
    expect(readFileSync(file(ids[1]), 'utf8')).toBe('{')
    expect(readdirSync(folder).sort()).toEqual(before)
  })

  it('restores an imported chain whose folder is gone, and keeps what it replaces under the name of its chain', () => {
    const there = sealedWork('F7')
    const here = emptyFolder()
    const own = archiveIn(here)
    own.import(there.folder)
    const [chain] = archiveFolder(here).foreignChains()
    own.close()
    rmSync(join(here, 'chains', chain, 'records'), { recursive: true })
    const again = archiveIn(here)
    expect(again.notices).toEqual(['0001-f7: the record file was missing; restored from the index'])
    again.close()
    const path = join(here, 'chains', chain, 'records', '0001-f7.json')
    expect(readFileSync(path, 'utf8')).toBe(readFileSync(there.file('0001-f7'), 'utf8'))
    writeFileSync(path, '{')
    archiveIn(here).close()
    expect(readdirSync(join(here, 'damaged'))).toEqual([`${chain}-0001-f7.json`])
  })

  it('rebuildIndex() tells what it restored before and after', () => {
    const { folder, ids, file } = sealedWork('F1', 'F2')
    rmSync(file(ids[1]))
    expect(rebuildIndex(folder, options)).toEqual({
      records: 2,
      notices: ['0002-f2: the record file was missing; restored from the index'],
    })
  })

  it('reads records in the order of their numbers beyond 9999', () => {
    const folder = emptyFolder()
    mkdirSync(join(folder, 'records'))
    const ids = ['0009-b', '0010-a', '9999-a', '10000-a', '10001-a']
    for (const id of [...ids, 'notes', '001-a', '0001-A', '0001-a.b'])
      writeFileSync(join(folder, 'records', `${id}.json`), '')
    writeFileSync(join(folder, 'records', '0001-a.json.old'), '')
    expect(archiveFolder(folder).recordIds('')).toEqual(ids)
    expect(ids.map(sequenceOf)).toEqual([9, 10, 9999, 10_000, 10_001])
  })
})

describe('import, backup and a new chain', () => {
  it('import(folder) says what is no archive, has no records, or lost its count', () => {
    const own = archiveIn(emptyFolder())
    const none = emptyFolder()
    const thrown = (path: string) => {
      try {
        return own.import(path)
      } catch (error) {
        return error
      }
    }
    expect(thrown(none)).toMatchObject({
      code: 'no-archive',
      message: `no archive at ${none}: it has no folder of records`,
    })
    archiveIn(none).close()
    expect(thrown(none)).toMatchObject({
      code: 'no-archive',
      message: `the archive at ${none} has no records yet`,
    })
    const { folder } = sealedWork('F1')
    rmSync(join(folder, 'head.json'))
    expect(thrown(folder)).toMatchObject({
      code: 'bad-record',
      message: `cannot import ${folder}: its signed count, head.json, is missing`,
    })
  })

  it('import(folder) brings photos, tells its progress, and keeps the longer head of a chain', () => {
    const there = emptyFolder()
    const foreign = archiveIn(there)
    const photos = [{ name: 'a.jpg', bytes: new Uint8Array([1, 2]) }]
    foreign.seal({ ...workDraft('F1'), photos })
    const early = join(emptyFolder(), 'early')
    foreign.backup(early)
    foreign.seal(workDraft('F2'))
    foreign.close()
    const here = emptyFolder()
    const own = archiveIn(here)
    const shares: number[] = []
    own.import(there, (share) => shares.push(share))
    expect(shares).toEqual([0.5, 1])
    expect(own.photoPath(sha256Hex(photos[0].bytes))).not.toBeNull()
    const [chain] = archiveFolder(here).foreignChains()
    const head = () => readFileSync(join(here, 'chains', chain, 'head.json'), 'utf8')
    const whole = head()
    expect(own.import(early).chains).toEqual([{ fingerprint: chain, own: false, added: 0, known: 1 }])
    expect(head()).toBe(whole)
    expect(readFileSync(join(here, 'chains', chain, 'public-key.pem'), 'utf8')).toBe(foreign.publicKey().pem)
  })

  it('backup(path) copies no more than the count, imported chains and time stamps too; nothing is left of a failed one', () => {
    const { folder, ids, file } = sealedWork('F1', 'F2')
    mkdirSync(join(folder, 'timestamps'))
    writeFileSync(join(folder, 'timestamps', 'a.tsr'), 'x')
    writeFileSync(join(folder, 'recordings', 'half.tmp'), 'x')
    // Sealed while the backup ran: its count is not in it yet.
    const head = readFileSync(join(folder, 'head.json'))
    const archive = archiveIn(folder)
    archive.seal(workDraft('F3'))
    archive.import(sealedWork('F7').folder)
    archive.close()
    writeFileSync(join(folder, 'head.json'), head)
    const target = join(emptyFolder(), 'stick')
    // Three records; the own keys; the public key of the imported chain; a time stamp.
    expect(backupArchive(archiveFolder(folder), target)).toEqual({ records: 3, files: 7 })
    expect(readdirSync(join(target, 'records'))).toEqual(ids.map((id) => `${id}.json`))
    expect(readdirSync(join(target, 'recordings'))).toEqual([])
    rmSync(file(ids[0]))
    mkdirSync(file(ids[0]))
    const failed = join(emptyFolder(), 'stick')
    expect(() => backupArchive(archiveFolder(folder), failed)).toThrow(`cannot back up to ${failed}: `)
    expect([existsSync(failed), existsSync(`${failed}.unfinished`)]).toEqual([false, false])
  })

  it('beginChain() says what keeps it, and lets the archive go', () => {
    const { folder } = sealedWork('F1')
    const [{ record }] = readChain(archiveFolder(folder), '')
    const chain = publicKeyFromBase64(record!.public_key).fingerprint
    mkdirSync(join(folder, 'chains'))
    writeFileSync(join(folder, 'chains', chain), '')
    expect(() => beginChain(folder, new Date())).toThrow(
      /^cannot begin a new chain in |^cannot make the folder /,
    )
    rmSync(join(folder, 'chains', chain))
    expect(beginChain(folder, new Date()).before).toBe(chain)
    expect(readdirSync(join(folder, 'chains', chain)).sort()).toEqual([
      ...['head.json', 'public-key.pem', 'records', 'retired-key.pem'],
    ])
    const empty = emptyFolder()
    archiveIn(empty).close()
    const before = readSigningKey(empty)!.public.base64
    const { before: none, key } = beginChain(empty, new Date())
    expect([none, existsSync(join(empty, 'retired-key.pem')), existsSync(join(empty, 'head.json'))]).toEqual([
      ...[null, true, false],
    ])
    expect(key.base64).not.toBe(before)
  })
})
