import { copyFileSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import type { Finding, VerifyReport } from '#dashboard/archive/finding.ts'
import { printDossier } from '#dashboard/archive/print.ts'
import { compareFiles, verify } from '#dashboard/archive/verify.ts'
import { sha256Hex } from '#dashboard/archive/write-durably.ts'
import {
  archiveIn,
  emptyFolder,
  holdDraft,
  sealedWork,
  tinyRecording,
  writeRecording,
} from './bench-archive.ts'
import { floatplaneText } from './sealed-hold.ts'

const options = { programVersion: '0.0.0-test' }

it('verify(archive), verify(dossier) name the record that was sealed before the one in front of it', async () => {
  const folder = emptyFolder()
  let hour = 10
  const archive = archiveIn(folder, { now: () => new Date(Date.UTC(2026, 3, 11, hour)) })
  for (hour of [10, 12, 9, 11])
    archive.seal(holdDraft(null, { kind: 'level', result: { subject: `L${hour}` } }))
  const dossier = join(emptyFolder(), 'dossier.pdf')
  writeFileSync(
    dossier,
    await printDossier(folder, archive.kept(), { text: floatplaneText, name: null }, options.programVersion),
  )
  archive.close()
  const wrong = /^sealed 2026-04-11 09:00 UTC, but 0002-l12, the previous record, 2026-04-11 12:00 UTC/
  for (const path of [folder, dossier]) {
    const { records } = await verify(path, options)
    const notes = records.map(({ findings }) =>
      findings.flatMap(({ text }) => (text.includes('the clock was wrong') ? [text] : [])),
    )
    expect(notes).toEqual([[], [], [expect.stringMatching(wrong)], []])
  }
})

describe('compareFiles()', () => {
  const report = (
    kind: VerifyReport['kind'],
    file: string,
    ...links: [string, number, string][]
  ): VerifyReport => ({
    ...{ file, kind, findings: [], records: [], exit_code: 0 },
    links: links.map(([key, sequence, sha256]) => ({ key, sequence, sha256, id: `000${sequence}-${file}` })),
  })
  const texts = (...reports: VerifyReport[]) =>
    compareFiles(reports).map(({ findings }) =>
      findings.map(({ state, text }: Finding) => `${state}: ${text}`),
    )
  const copy = ': one of the two is not a true copy'

  it('finds an archive that lacks a record which another file carries', () => {
    const archive = report('archive', 'old', ['k', 1, 'a'])
    expect(texts(archive, report('report', 'new', ['k', 1, 'a'], ['k', 2, 'b']))).toEqual([
      [`broken: 0002-new, which new carries, is missing here${copy}`],
      [],
    ])
    expect(compareFiles([archive, report('record', 'new', ['k', 2, 'b'])])[0].exit_code).toBe(13)
  })
  it('finds two records at one place of a chain, whatever the files are', () => {
    expect(texts(report('report', 'a', ['k', 1, 'a']), report('record', 'b', ['k', 1, 'b']))).toEqual([
      [`broken: 0001-b, which b carries, is another record here${copy}`],
      [`broken: 0001-a, which a carries, is another record here${copy}`],
    ])
  })
  it('has nothing to say of other chains, of equal records, and of a report that carries fewer', () => {
    const all = [
      report('archive', 'a', ['k', 1, 'a'], ['k', 2, 'b']),
      report('report', 'b', ['k', 2, 'b']),
      report('archive', 'c', ['other', 1, 'x']),
    ]
    expect(compareFiles(all)).toEqual(all)
  })
})

describe('verify(archive)', () => {
  it('of a folder that is none, and of one without records', async () => {
    const folder = emptyFolder()
    await expect(verify(folder, options)).rejects.toMatchObject({
      code: 'no-archive',
      message: `${folder} is not an archive: it has no folder of records`,
    })
    archiveIn(folder).close()
    expect((await verify(folder, options)).findings.map(({ text }) => text)).toContain(
      'the archive has no records: it proves nothing',
    )
  })
  it('names an unreadable record by its file, as void, with its place and its fault', async () => {
    const { folder, ids, file } = sealedWork('F1', 'F2', 'F3')
    writeFileSync(file(ids[1]), '{')
    const { records, findings, exit_code } = await verify(folder, options)
    expect(records[1]).toMatchObject({
      id: ids[1],
      kind: 'unknown',
      sealed: null,
      recomputed: null,
      verdict: 'void',
    })
    expect(records[1].findings).toEqual([{ state: 'broken', text: expect.stringMatching(/^not JSON/) }])
    expect(exit_code).toBe(13)
    // Its successor was sealed after another text.
    expect(findings[0].text).toMatch(/^chain of 3 records, key .*: 2 not as sealed$/)
  })
  it('names records that the index has and the folder has not', async () => {
    const { folder, ids, file } = sealedWork('F1', 'F2', 'F3')
    for (const id of ids.slice(1)) rmSync(file(id))
    expect((await verify(folder, options)).findings.map(({ text }) => text)).toContain(
      `the index beside the records still has ${ids[1]}, ${ids[2]}: the files were removed`,
    )
  })
  it('takes a PDF by its first 1024 bytes or its name', async () => {
    const folder = emptyFolder()
    const path = (name: string, before: number) => {
      writeFileSync(join(folder, name), `${' '.repeat(before)}%PDF-1.7\n`)
      return join(folder, name)
    }
    expect((await verify(path('a.txt', 1019), options)).kind).toBe('report')
    await expect(verify(path('b.txt', 1020), options)).rejects.toThrow(
      'is not a test report, record or archive',
    )
    expect((await verify(path('c.PDF', 5000), options)).kind).toBe('report')
    await expect(verify(path('d.pdf.txt', 5000), options)).rejects.toThrow('is not a test report')
  })
  it('of a record under another name, not UTF-8, or under a damaged stillhold text says so', async () => {
    const { ids, file } = sealedWork('F1')
    const folder = emptyFolder()
    copyFileSync(file(ids[0]), join(folder, 'mine.json'))
    const moved = await verify(join(folder, 'mine.json'), options)
    expect(moved.findings.map(({ text }) => text)).toContain(`the record has the id ${ids[0]}`)
    expect(moved.links).toEqual([
      { key: expect.any(String), sequence: 1, id: ids[0], sha256: sha256Hex(readFileSync(file(ids[0]))) },
    ])
    writeFileSync(join(folder, 'latin.json'), Buffer.from([0x7b, 0xff]))
    const latin = await verify(join(folder, 'latin.json'), options)
    expect(latin).toMatchObject({ kind: 'record', exit_code: 13, records: [], links: [] })
    expect(latin.findings[0].text).toBe('this is not a sealed record, or it was changed: not UTF-8 text')
    writeFileSync(join(folder, 'a.txt'), 'no JSON, but stillhold')
    expect((await verify(join(folder, 'a.txt'), options)).findings[0].text).toMatch(
      /^this is not a sealed record/,
    )
  })
  it('finds the recording of a single record beside it, under its hash', async () => {
    const folder = emptyFolder()
    const archive = archiveIn(folder)
    const photos = [{ name: 'tank.jpg', bytes: new Uint8Array([1]) }]
    const path = writeRecording(emptyFolder(), 'a.lp', tinyRecording)
    const { id, recording } = archive.seal(
      holdDraft(path, { kind: 'work', result: { fitting: 'F1' }, photos }),
    )
    const said = async (place: string) => {
      const { records } = await verify(join(place, `${id}.json`), options)
      return records[0].findings.map(({ text }) => text).filter((text) => /^(recording|photo)/.test(text))
    }
    const both = [
      `recording a.lp, ${Buffer.byteLength(tinyRecording)} bytes as sealed`,
      'photo tank.jpg, as sealed',
    ]
    expect(await said(join(folder, 'records'))).toEqual(both)
    const alone = emptyFolder()
    copyFileSync(join(folder, 'records', `${id}.json`), join(alone, `${id}.json`))
    expect(await said(alone)).toEqual([
      'recording a.lp is not available: its verdict cannot be checked',
      'photo tank.jpg is not available',
    ])
    copyFileSync(
      join(folder, 'recordings', `${recording!.sha256}.lp`),
      join(alone, `${recording!.sha256}.lp`),
    )
    copyFileSync(join(folder, 'photos', sha256Hex(photos[0].bytes)), join(alone, sha256Hex(photos[0].bytes)))
    expect(await said(alone)).toEqual(both)
  })
})
