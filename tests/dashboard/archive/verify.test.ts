import { mkdirSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { type HoldResult, verdictExitCode, verdictsWorstFirst } from '#analysis/model/hold-result.ts'
import type { VerifyReport } from '#dashboard/archive/finding.ts'
import { checkPdfSeal } from '#dashboard/archive/pdf-file.ts'
import { verify } from '#dashboard/archive/verify.ts'
import {
  archiveIn,
  emptyFolder,
  holdDraft,
  reportOf,
  tinyRecording,
  writeRecording,
} from './bench-archive.ts'
import { otherVerdict, sealDemoHold } from './sealed-hold.ts'

const options = { programVersion: '0.0.0-test' }
const exitCodeOf = (verdict: unknown) => verdictExitCode[verdict as keyof typeof verdictExitCode]

function brokenTexts(report: VerifyReport): string[] {
  return [...report.findings, ...report.records.flatMap((record) => record.findings)]
    .filter((finding) => finding.state === 'broken')
    .map((finding) => finding.text)
}

describe('verify(record)', () => {
  it('verify(record.json) recomputes the verdict from the recording beside it and exits with it', async () => {
    const folder = emptyFolder()
    const archive = archiveIn(folder)
    const record = sealDemoHold(archive, 'lines-leak')
    const report = await verify(join(folder, 'records', `${record.id}.json`), options)
    expect(brokenTexts(report)).toEqual([])
    const name = archive.publicKey().fingerprint.match(/.{4}/g)!.join(' ')
    expect(report.findings.map(({ text }) => text)).toContain(
      `key ${name}: compare it with the one the workshop printed, or give it with --key`,
    )
    expect(report.records[0].recomputed).toBe((record.result as HoldResult).verdict)
    expect(report.exit_code).toBe(exitCodeOf((record.result as HoldResult).verdict))
  })

  it('verify(record.json) finds every single changed byte of a small record', async () => {
    const folder = emptyFolder()
    const archive = archiveIn(folder)
    const record = archive.seal(
      holdDraft(null, { kind: 'work', result: { fitting: 'F07', action: 'remake' } }),
    )
    const path = join(folder, 'records', `${record.id}.json`)
    expect((await verify(path, options)).exit_code).toBe(0)
    const bytes = readFileSync(path)
    const copy = join(emptyFolder(), `${record.id}.json`)
    for (let i = 0; i < bytes.length; i++) {
      const changed = Buffer.from(bytes)
      changed[i] ^= 1 << (i % 8)
      writeFileSync(copy, changed)
      const report = await verify(copy, options)
      expect(report.exit_code, `byte ${i}`).not.toBe(0)
      expect(brokenTexts(report), `byte ${i}`).not.toEqual([])
    }
  }, 120_000)

  it('verify(record.json) without its recording never passes, since its verdict cannot be checked', async () => {
    const folder = emptyFolder()
    const record = sealDemoHold(archiveIn(folder), 'lines-retest')
    rmSync(join(folder, 'recordings'), { recursive: true })
    const report = await verify(join(folder, 'records', `${record.id}.json`), options)
    expect(report.records[0].findings.map(({ text }) => text)).toContain(
      'recording lines-retest.lp is not available: its verdict cannot be checked',
    )
    expect(report.exit_code).toBe(12)
  })

  it('verify(record.json) tells a sealed verdict that is computed differently and counts the worse', async () => {
    const folder = emptyFolder()
    const archive = archiveIn(folder)
    const true_ = (sealDemoHold(archive, 'lines-leak').result as HoldResult).verdict
    const false_ = sealDemoHold(archive, 'lines-leak', { verdict: otherVerdict(true_) })
    const report = await verify(join(folder, 'records', `${false_.id}.json`), {
      ...options,
      programVersion: '9.9.9',
    })
    expect(report.records[0].findings.map((finding) => finding.text)).toContain(
      `verdict DIFFERS: sealed as ${otherVerdict(true_)}, version 9.9.9 (sealed by 0.0.0-test) computes ${true_}; trust the worse`,
    )
    const worse = verdictsWorstFirst.find((each) => each === true_ || each === otherVerdict(true_))
    expect(report.exit_code).toBe(exitCodeOf(worse))
  })

  it('verify(record.json) tells figures that are computed differently', async () => {
    const folder = emptyFolder()
    const archive = archiveIn(folder)
    const record = sealDemoHold(archive, 'lines-leak', { raw_drop_Pa: 1 })
    const report = await verify(join(folder, 'records', `${record.id}.json`), options)
    const notes = report.records[0].findings.filter((finding) => finding.state === 'note')
    expect(notes.map((finding) => finding.text)).toEqual([
      expect.stringMatching(
        /^verdict \w+ again by version 0\.0\.0-test, .* other figures: raw drop sealed as 1 Pa, /,
      ),
    ])
  })

  it('verify(file) that is neither report, record nor archive is refused in one line', async () => {
    const path = writeRecording(emptyFolder(), 'notes.txt', 'remember the milk\n')
    await expect(verify(path, options)).rejects.toThrow(
      `${path} is not a test report, record or archive: not JSON`,
    )
    await expect(verify(`${path}.gone`, options)).rejects.toThrow(
      `${path}.gone does not exist; check the path`,
    )
  })

  it('verify(file, key) tells someone else’s key from the expected one', async () => {
    const folder = emptyFolder()
    const archive = archiveIn(folder)
    const record = archive.seal(holdDraft(null, { kind: 'work', result: { fitting: 'F07' } }))
    const path = join(folder, 'records', `${record.id}.json`)
    const own = archive.publicKey().fingerprint
    expect((await verify(path, { ...options, expectedKeys: [own] })).exit_code).toBe(0)
    const report = await verify(path, { ...options, expectedKeys: ['0123456789abcdef'] })
    expect(report.exit_code).toBe(13)
    expect(brokenTexts(report)[0]).toContain('is not the one expected: someone else sealed this')
  })
})

describe('verify(report)', () => {
  it('verify(report) holds alone in an empty folder, pages and all; printed again it has the same bytes', async () => {
    const archive = archiveIn(emptyFolder())
    const record = sealDemoHold(archive, 'lines-leak')
    const path = join(emptyFolder(), 'left.pdf')
    const pdf = await reportOf(archive, record.id)
    writeFileSync(path, pdf)
    expect(pdf.equals(await reportOf(archive, record.id))).toBe(true)
    const report = await verify(path, { ...options, expectedKeys: [archive.publicKey().fingerprint] })
    const all = [...report.findings, ...report.records[0].findings]
    expect(all.filter((finding) => finding.state !== 'holds')).toEqual([])
    expect(report.exit_code).toBe(exitCodeOf((record.result as HoldResult).verdict))
  }, 120_000)

  it('verify(report) finds a changed byte wherever it is: 400 places spread over the file', async () => {
    const archive = archiveIn(emptyFolder())
    const recording = writeRecording(emptyFolder(), 'tiny.lp', tinyRecording)
    const pdf = await reportOf(archive, archive.seal(holdDraft(recording)).id)
    expect(checkPdfSeal(pdf).state).toBe('holds')
    const places = Array.from({ length: 400 }, (_, i) => Math.floor((i * (pdf.length - 1)) / 399))
    for (const place of places) {
      const changed = Buffer.from(pdf)
      changed[place] ^= 1 << (place % 8)
      expect(checkPdfSeal(changed).state, `byte ${place}`).not.toBe('holds')
    }
    const path = join(emptyFolder(), 'changed.pdf')
    for (const place of places.filter((_, i) => i % 40 === 0)) {
      const changed = Buffer.from(pdf)
      changed[place] ^= 1 << (place % 8)
      writeFileSync(path, changed)
      expect((await verify(path, options)).exit_code, `byte ${place}`).toBe(13)
    }
  }, 120_000)

  it('verify(report) finds bytes added behind the end and a seal cut out', async () => {
    const archive = archiveIn(emptyFolder())
    const record = archive.seal(holdDraft(null, { kind: 'work', result: { fitting: 'F07' } }))
    const pdf = await reportOf(archive, record.id)
    expect(checkPdfSeal(Buffer.concat([pdf, Buffer.from('\n')])).state).toBe('broken')
    const start = pdf.indexOf('% stillhold-seal')
    const without = Buffer.concat([pdf.subarray(0, start), pdf.subarray(pdf.indexOf('\n', start) + 1)])
    expect(checkPdfSeal(without).state).toBe('none')
    const path = join(emptyFolder(), 'unsealed.pdf')
    writeFileSync(path, without)
    expect((await verify(path, options)).exit_code).toBe(13)
  })

  it('verify(report) cut at any tenth of its length is void, not an error', async () => {
    const archive = archiveIn(emptyFolder())
    const record = archive.seal(holdDraft(null, { kind: 'work', result: { fitting: 'F07' } }))
    const pdf = await reportOf(archive, record.id)
    const path = join(emptyFolder(), 'cut.pdf')
    for (let tenth = 0; tenth < 10; tenth++) {
      writeFileSync(path, pdf.subarray(0, Math.floor((pdf.length * tenth) / 10)))
      expect((await verify(path, options)).exit_code, `${tenth}/10`).toBe(13)
    }
  })
})

describe('verify(archive)', () => {
  function sealedArchive(): { folder: string; ids: string[] } {
    const folder = emptyFolder()
    const archive = archiveIn(folder)
    const recording = writeRecording(emptyFolder(), 'note.lp', tinyRecording)
    const draft = holdDraft(recording, { kind: 'work', result: { fitting: 'F07' } })
    const ids = [1, 2, 3].map(() => archive.seal(draft).id)
    archive.close()
    return { folder, ids }
  }
  const file = (folder: string, id: string) => join(folder, 'records', `${id}.json`)

  it('verify(folder) holds for a chain as sealed, in a copy on another machine too', async () => {
    const { folder } = sealedArchive()
    expect((await verify(folder, options)).exit_code).toBe(0)
    const moved = join(emptyFolder(), 'moved')
    renameSync(folder, moved)
    expect((await verify(moved, options)).exit_code).toBe(0)
  })

  it('verify(folder) names a record that was taken out of the middle', async () => {
    const { folder, ids } = sealedArchive()
    rmSync(file(folder, ids[1]))
    const report = await verify(folder, options)
    expect(brokenTexts(report)).toContain('record 2 is missing before it')
    expect(report.exit_code).toBe(13)
  })

  it('verify(folder) names a record put in the place of another with the same key', async () => {
    const { folder, ids } = sealedArchive()
    const other = emptyFolder()
    mkdirSync(join(other, 'records'))
    for (const name of ['signing-key.pem', 'public-key.pem']) {
      writeFileSync(join(other, name), readFileSync(join(folder, name)), { mode: 0o600 })
    }
    const forger = archiveIn(other)
    const draft = holdDraft(null, { kind: 'work', result: { fitting: 'F07' }, operator: 'E. F.' })
    for (const id of ids.slice(0, 2)) expect(forger.seal(draft).id).toBe(id)
    writeFileSync(file(folder, ids[1]), readFileSync(file(other, ids[1])))
    expect(brokenTexts(await verify(folder, options))).toContain(
      `the chain is broken: ${ids[0]} was not the previous record when it was sealed`,
    )
  })

  it('verify(folder) names a recording that was changed', async () => {
    const { folder } = sealedArchive()
    const archive = archiveIn(folder)
    const path = archive.recordingPath('1')!
    archive.close()
    writeFileSync(path, readFileSync(path, 'utf8').replace('10.02', '10.03'))
    const report = await verify(folder, options)
    expect(brokenTexts(report)).toContain(
      'recording note.lp was changed: its bytes are not those that were sealed',
    )
    expect(report.exit_code).toBe(13)
  })
})

describe('verify(archive) of many records', () => {
  it('checks on several threads and tells them in their order; one changed byte is found in its place', async () => {
    const folder = emptyFolder()
    const archive = archiveIn(folder)
    const sealed = [
      ...['lines-leak', 'lines-retest'].map((name) => sealDemoHold(archive, name)),
      ...Array.from({ length: 34 }, (_, i) =>
        archive.seal(holdDraft(null, { kind: 'work', result: { fitting: `F${i}`, action: 'remake' } })),
      ),
    ]
    const shares: number[] = []
    const report = await verify(folder, { ...options, progress: (share) => shares.push(share) })
    expect(report.records.map(({ id }) => id)).toEqual(sealed.map(({ id }) => id))
    expect(report.records.slice(0, 3).map(({ recomputed }) => recomputed)).toEqual(['fail', 'pass', null])
    expect(brokenTexts(report)).toEqual([])
    expect(shares).toEqual([...shares].sort((a, b) => a - b))
    expect(shares).toHaveLength(36)

    const path = join(folder, 'records', `${sealed[20].id}.json`)
    writeFileSync(path, readFileSync(path, 'utf8').replace('remake', 'reseal'))
    const changed = await verify(folder, options)
    const broken = changed.records.filter((one) => one.findings.some(({ state }) => state === 'broken'))
    expect(broken.map(({ id }) => id)).toEqual([sealed[20].id, sealed[21].id])
    expect(changed.exit_code).toBe(13)
  }, 60_000)
})
