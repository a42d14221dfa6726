import { existsSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { beginChain, rebuildIndex } from '#dashboard/archive/renew-archive.ts'
import { verify } from '#dashboard/archive/verify.ts'
import { archiveIn, emptyFolder, holdDraft, tinyRecording, writeRecording } from './bench-archive.ts'

const options = { programVersion: '0.0.0-test' }
const work = (fitting: string) => holdDraft(null, { kind: 'work', result: { fitting } })
const bytesOf = (folder: string) =>
  Object.fromEntries(readdirSync(folder).map((name) => [name, readFileSync(join(folder, name), 'utf8')]))

describe('import', () => {
  it('import(folder) keeps a foreign chain byte for byte beside the own one, each under its key', async () => {
    const [here, there] = [emptyFolder(), emptyFolder()]
    const own = archiveIn(here)
    own.seal(work('F01'))
    const foreign = archiveIn(there)
    const recording = writeRecording(emptyFolder(), 'there.lp', tinyRecording)
    foreign.seal(holdDraft(recording, { kind: 'work', result: { fitting: 'F02' } }))
    foreign.seal(work('F03'))
    const { fingerprint } = foreign.publicKey()
    foreign.close()

    expect(own.import(there)).toEqual({ chains: [{ fingerprint, own: false, added: 2, known: 0 }] })
    expect(bytesOf(join(here, 'chains', fingerprint, 'records'))).toEqual(bytesOf(join(there, 'records')))
    expect(
      own
        .list()
        .map((each) => each.id)
        .sort(),
    ).toEqual(['0001-f01', `0001-f02@${fingerprint}`, `0002-f03@${fingerprint}`].sort())
    expect(readFileSync(own.recordingPath(`0001-f02@${fingerprint}`)!, 'utf8')).toBe(tinyRecording)
    expect(own.seal(work('F04')).previous_sha256).not.toBeNull()
    expect((await verify(here, options)).exit_code).toBe(0)
  })

  it('import(folder) again adds only what is new', () => {
    const [here, there] = [emptyFolder(), emptyFolder()]
    const own = archiveIn(here)
    const foreign = archiveIn(there)
    foreign.seal(work('F01'))
    own.import(there)
    foreign.seal(work('F02'))
    expect(own.import(there).chains[0]).toMatchObject({ added: 1, known: 1 })
    expect(own.evidence()).toHaveLength(2)
  })

  it('import(folder) refuses an archive with a changed record, and imports nothing of it', () => {
    const [here, there] = [emptyFolder(), emptyFolder()]
    const foreign = archiveIn(there)
    foreign.seal(work('F01'))
    const last = foreign.seal(work('F02'))
    foreign.close()
    const path = join(there, 'records', `${last.id}.json`)
    writeFileSync(path, readFileSync(path, 'utf8').replace('"F02"', '"F09"'))
    const own = archiveIn(here)
    expect(() => own.import(there)).toThrow(
      `cannot import ${there}: ${path}: signature of the record does not hold`,
    )
    expect(own.list()).toEqual([])
    expect(existsSync(join(here, 'chains'))).toBe(false)
  })

  it('import(folder) refuses a chain that was sealed on in two places with one key', () => {
    const [here, copy] = [emptyFolder(), join(emptyFolder(), 'copy')]
    const own = archiveIn(here)
    own.seal(work('F01'))
    own.backup(copy)
    const fork = archiveIn(copy)
    fork.seal(work('F02'))
    fork.close()
    own.seal(work('F03'))
    expect(() => own.import(copy)).toThrow(/its record 0002-f02 differs from 0002-f03 of the same chain here/)
  })

  it('import(folder) takes up the own chain where a backup stopped', () => {
    const [here, copy] = [emptyFolder(), join(emptyFolder(), 'copy')]
    const own = archiveIn(here)
    own.seal(work('F01'))
    own.backup(copy)
    own.seal(work('F02'))
    own.close()
    const restored = archiveIn(copy)
    expect(restored.import(here).chains[0]).toMatchObject({ own: true, added: 1, known: 1 })
    expect(restored.seal(work('F03')).sequence).toBe(3)
  })

  it('evidence() after an import follows the clock, and within a chain its numbers', () => {
    const [here, there] = [emptyFolder(), emptyFolder()]
    const at = (times: string[]) => () => new Date(times.shift()!)
    const opened = '2026-04-01T06:00Z'
    const own = archiveIn(here, { now: at([opened, opened, '2026-04-01T08:00Z', '2026-04-01T07:00Z']) })
    own.seal(work('F01'))
    own.seal(work('F02'))
    const foreign = archiveIn(there, { now: at([opened, opened, '2026-04-01T08:30Z']) })
    foreign.seal(work('F03'))
    own.import(there)
    expect(own.evidence().map((record) => record.id)).toEqual(['0001-f01', '0002-f02', '0001-f03'])
  })
})

describe('backup', () => {
  it('backup(path) while the archive is open gives one that verifies and goes on', async () => {
    const folder = emptyFolder()
    const target = join(emptyFolder(), 'stick')
    const archive = archiveIn(folder)
    const photos = [{ name: 'tank.jpg', bytes: new Uint8Array([1, 2, 3]) }]
    archive.seal({ ...work('F01'), photos })
    expect(archive.backup(target)).toEqual({ records: 1, files: 4 })
    expect((await verify(target, options)).exit_code).toBe(0)
    if (process.platform !== 'win32') {
      expect(statSync(join(target, 'signing-key.pem')).mode & 0o777).toBe(0o600)
    }
    expect(archiveIn(target).seal(work('F02')).sequence).toBe(2)
  })

  it('backup(path) never writes over what is there', () => {
    const archive = archiveIn(emptyFolder())
    const target = emptyFolder()
    expect(() => archive.backup(target)).toThrow(`cannot back up to ${target}: it exists; name a new folder`)
  })
})

describe('beginChain', () => {
  it('beginChain(folder) sets the old chain beside the new one and both verify', async () => {
    const folder = emptyFolder()
    const archive = archiveIn(folder)
    archive.seal(work('F01'))
    const old = archive.publicKey()
    archive.close()
    rmSync(join(folder, 'signing-key.pem'))
    expect(beginChain(folder, new Date()).before).toBe(old.fingerprint)
    const next = archiveIn(folder)
    expect(next.publicKey().base64).not.toBe(old.base64)
    expect(next.seal(work('F02')).previous_sha256).toBeNull()
    expect(next.get(`0001-f01@${old.fingerprint}`).public_key).toBe(old.base64)
    expect((await verify(folder, options)).exit_code).toBe(0)
  })
})

describe('rebuildIndex', () => {
  it('rebuildIndex(folder) finds every record, imported chains too', () => {
    const [here, there] = [emptyFolder(), emptyFolder()]
    const own = archiveIn(here)
    own.seal(work('F01'))
    const foreign = archiveIn(there)
    foreign.seal(work('F02'))
    own.import(there)
    own.close()
    expect(rebuildIndex(here, { programVersion: '0.0.0-test' })).toEqual({ records: 2, notices: [] })
  })
})
