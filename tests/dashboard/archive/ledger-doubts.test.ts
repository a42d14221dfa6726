import { readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, it } from 'vitest'
import { ledger } from '#analysis/hunt/ledger.ts'
import type { HoldResult } from '#analysis/model/hold-result.ts'
import type { OriginKind } from '#analysis/model/origin.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import type { Archive } from '#dashboard/archive/archive.ts'
import { ArchiveEvidence } from '#dashboard/archive/archive-evidence.ts'
import { verify } from '#dashboard/archive/verify.ts'
import { sha256Hex } from '#dashboard/archive/write-durably.ts'
import { readRecordingFile } from '#ingest/recording/read-recording.ts'
import { readSystemFile } from '#ingest/system-file/read-system-file.ts'
import { archiveIn, emptyFolder, holdDraft } from './bench-archive.ts'
import { demoRecordingPath, floatplaneText } from './sealed-hold.ts'

const system = readSystemFile(floatplaneText, 'floatplane.yaml').system!
const proven = (archive: Archive) => ledger(system, new ArchiveEvidence().of(archive.kept()))

/** Seals the demo retest, which passes, with readings of this origin; `change` rewrites its recording. */
function sealPass(archive: Archive, kind: OriginKind, change = (text: string) => text) {
  const path = join(emptyFolder(), 'hold.lp')
  writeFileSync(path, change(readFileSync(demoRecordingPath('lines-retest'), 'utf8')))
  const [{ result }] = analyzeRecording(readRecordingFile(path, system), system)
  const origins = [{ channel: 'p-lines', kind, name: null, sha256: null }]
  const draft = { systemText: floatplaneText, systemName: system.name, result, origins }
  return archive.seal(holdDraft(path, draft))
}

it('ledger(archive) does not count a hold that is replayed or imported until a person accepts it, and says so', () => {
  for (const kind of ['replay', 'import', 'typed', 'serial'] as const) {
    const archive = archiveIn(emptyFolder())
    const { id } = sealPass(archive, kind)
    const before = proven(archive)
    if (kind === 'serial') {
      expect(before.counts.proven).toBeGreaterThan(0)
      continue
    }
    expect(before.counts.proven).toBe(0)
    expect(before.cautions.join()).toContain(`${id} does not count: its readings are`)
    const record_sha256 = sha256Hex(archive.getText(id))
    const result = { stillhold: 1, subject: id, record_sha256, because: 'kept by the owner' }
    archive.seal(holdDraft(null, { kind: 'acceptance', systemText: floatplaneText, result }))
    const after = proven(archive)
    expect(after.counts.proven).toBeGreaterThan(0)
    expect(after.cautions.join()).toContain('accepted by A. B.: kept by the owner')
  }
})

it('ledger(archive) counts demo holds among themselves, and none beside a hold of a real bench', () => {
  const archive = archiveIn(emptyFolder())
  sealPass(archive, 'demo')
  expect(proven(archive).counts.proven).toBeGreaterThan(0)
  const mixed = archiveIn(emptyFolder())
  const { id } = sealPass(mixed, 'demo')
  sealPass(mixed, 'serial', (text) => text.replaceAll(/logger/g, 'logger'))
  expect(proven(mixed).cautions.join()).toContain(
    `${id} does not count: its readings come from the simulated bench`,
  )
})

it("ledger(archive) takes a logger's marks only where they weaken a proof: work and stages, not a dry look", () => {
  const marked = (lines: string) => {
    const archive = archiveIn(emptyFolder())
    sealPass(archive, 'serial', (text) => `${text}${lines}`)
    return proven(archive)
  }
  const lastNs = /(\d{19})\s*$/.exec(readFileSync(demoRecordingPath('lines-retest'), 'utf8'))![1]
  const later = String(BigInt(lastNs) + 10_000_000_000n)
  const clean = marked('')
  const dry = marked(`mark,kind=look,from=logger,id=F12 finding="dry" ${later}\n`)
  expect(dry.counts).toEqual(clean.counts)
  const wet = marked(`mark,kind=look,from=logger,id=F12 finding="drip" ${later}\n`)
  expect(wet.counts.proven).toBeLessThan(clean.counts.proven)
  const worked = marked(`mark,kind=work,from=logger,id=F12 action="remake" ${later}\n`)
  expect(worked.counts.stale).toBeGreaterThan(0)

  const archive = archiveIn(emptyFolder())
  sealPass(archive, 'serial', (text) =>
    text
      .replaceAll('mark,kind=stage', 'mark,from=logger,kind=stage')
      .replaceAll(/^mark,(hold=[^,]+,)kind=stage/gm, 'mark,from=logger,$1kind=stage'),
  )
  expect(proven(archive).counts.proven).toBe(0)
  expect(proven(archive).cautions.join()).toContain('its stages were marked by the logger')
})

it('a mark of a sealed hold that is taken back: ledger and verify count the hold without it, and say so', async () => {
  const folder = emptyFolder()
  const archive = archiveIn(folder)
  const heldNs = 1775896744000000000n
  const work = `mark,kind=work,from=operator,id=F12 action="retighten" ${heldNs}\n`
  const insert = (text: string) => text.replace(/^(?=logger .* 1775896744000000000$)/m, work)
  const voided = sealPass(archive, 'serial', insert)
  expect((voided.result as HoldResult).verdict).toBe('void')
  expect(proven(archive).counts.proven).toBe(0)
  const correct = (of: bigint, corrects: string) =>
    archive.seal(
      holdDraft(null, {
        kind: 'correction',
        systemText: floatplaneText,
        result: { stillhold: 1, id: 'F12', of: String(of), time_ns: String(heldNs + 900_000_000_000n) },
        corrects,
      }),
    )
  const by = correct(heldNs, voided.id).id
  const after = proven(archive)
  expect(after.counts.proven).toBeGreaterThan(0)
  expect(after.cautions).toContain(
    `${voided.id}: a mark was corrected after sealing (${by}); re-analyzed, it is pass.`,
  )

  const passed = sealPass(archive, 'serial')
  const ventNs = 1775897044000000000n
  correct(ventNs, passed.id)
  archive.close()
  const { records } = await verify(folder, { programVersion: '0' })
  const said = records.map(({ findings }) => findings.find(({ text }) => text.startsWith('re-analyze'))?.text)
  expect(said[0]).toContain(by)
  expect(said[0]).toMatch(/^re-analyze: a mark was corrected after sealing .* without it the hold is /)
  expect(said[2]).toMatch(/^re-analyze: a mark was corrected after sealing/)
  // The worse of what was sealed and what is computed now.
  expect(records.map(({ verdict }) => verdict)).toEqual(['void', null, 'pass', null])
})
