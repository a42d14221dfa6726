import { cpSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { verify } from '#dashboard/archive/verify.ts'
import { archiveIn, emptyFolder, holdDraft } from './bench-archive.ts'

const options = { programVersion: '0.0.0-test' }
const work = (fitting: string) => holdDraft(null, { kind: 'work', result: { fitting } })
const version01 = new URL('version-0.1/', import.meta.url).pathname

/** An archive of three records, closed. */
function three(): string {
  const folder = emptyFolder()
  const archive = archiveIn(folder)
  for (const fitting of ['F01', 'F02', 'F03']) archive.seal(work(fitting))
  archive.close()
  return folder
}

const newest = (folder: string) =>
  join(folder, 'records', readdirSync(join(folder, 'records')).sort().at(-1)!)
const removeIndex = (folder: string) => {
  for (const side of ['', '-wal', '-shm']) rmSync(join(folder, `index.sqlite${side}`), { force: true })
}

describe('the signed count of a chain', () => {
  it('verify(folder) tells records cut off the end, with their index and without', async () => {
    for (const hasIndex of [true, false]) {
      const folder = three()
      rmSync(newest(folder))
      if (!hasIndex) removeIndex(folder)
      const { findings, exit_code } = await verify(folder, options)
      expect(findings.map(({ text }) => text).join('\n')).toContain('1 of 3 records are missing')
      expect(exit_code).toBe(13)
    }
  })

  it('verify(folder) of an archive without records proves nothing (12), and is broken where some were counted (13)', async () => {
    const empty = emptyFolder()
    archiveIn(empty).close()
    expect((await verify(empty, options)).exit_code).toBe(12)
    const folder = three()
    removeIndex(folder)
    for (const name of readdirSync(join(folder, 'records'))) rmSync(join(folder, 'records', name))
    expect((await verify(folder, options)).exit_code).toBe(13)
  })

  it('openArchive(folder) with records missing is for reading only: sealing on would hide them for good', () => {
    const folder = three()
    rmSync(newest(folder))
    removeIndex(folder)
    expect(() => archiveIn(folder)).toThrow(/1 of 3 records are missing.*archive key --new$/)
    expect(archiveIn(folder, { readOnly: true }).notices.join()).toContain('1 of 3 records are missing')
  })

  it("openArchive(folder) refuses another key in the place of the chain's own, and says how to go on", () => {
    const folder = three()
    const stranger = three()
    const own = readFileSync(join(folder, 'signing-key.pem'))
    cpSync(join(stranger, 'signing-key.pem'), join(folder, 'signing-key.pem'))
    expect(() => archiveIn(folder)).toThrow(/is not the key of its records.*backup, or begin a new chain/)
    writeFileSync(join(folder, 'signing-key.pem'), own)
    expect(archiveIn(folder).seal(work('F04')).sequence).toBe(4)
  })
})

describe('an archive, a report and a dossier of version 0.1', () => {
  it('verify as before, and what they lack is said', async () => {
    const folder = emptyFolder()
    cpSync(version01, folder, { recursive: true })
    const before = await verify(folder, options)
    const said = [...before.findings, ...before.records.flatMap(({ findings }) => findings)]
    expect(said.filter(({ state }) => state === 'broken')).toEqual([])
    expect(said.map(({ text }) => text).join('\n')).toMatch(
      /sealed by version 0\.1, which signed no count[\s\S]*readings: not recorded, as in every record of version 0\.1/,
    )
    expect(before.exit_code).toBe(10)
    const archive = archiveIn(folder)
    archive.seal(work('F04'))
    archive.close()
    const after = await verify(folder, options)
    expect(after.findings.some(({ text }) => text.includes('complete, 4 counted and signed'))).toBe(true)
    for (const [name, code] of [
      ['certificate.pdf', 0],
      ['dossier.pdf', 10],
    ] as const) {
      const { findings, exit_code } = await verify(join(version01, name), options)
      expect(findings.filter(({ state }) => state === 'broken')).toEqual([])
      expect(exit_code).toBe(code)
    }
  }, 60_000)
})
