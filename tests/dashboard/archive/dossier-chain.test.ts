import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { ledger } from '#analysis/hunt/ledger.ts'
import type { Archive } from '#dashboard/archive/archive.ts'
import { renderDossier } from '#dashboard/archive/dossier.ts'
import type { SealedRecord } from '#dashboard/archive/record.ts'
import { verify } from '#dashboard/archive/verify.ts'
import { readSystemFile } from '#ingest/system-file/read-system-file.ts'
import { archiveIn, emptyFolder, holdDraft } from './bench-archive.ts'
import { floatplaneText } from './sealed-hold.ts'

const system = readSystemFile(floatplaneText, 'floatplane.yaml').system!

function sealed(archive: Archive, count: number): SealedRecord[] {
  const draft = holdDraft(null, { result: {} })
  return Array.from({ length: count }, (_, i) =>
    archive.seal({ ...draft, kind: 'correction', note: `note ${i}` }),
  )
}

/** What `verify` says of a dossier of these records, sealed by the archive's own key as only its owner can. */
async function said(archive: Archive, records: readonly SealedRecord[]) {
  const proofs = records.map((record) => ({
    record,
    recordText: archive.getText(record.id),
    recording: null,
    system,
    analysis: null,
  }))
  const input = {
    ledger: ledger(system, []),
    proofs,
    programVersion: '0.0.0-test',
    key: archive.publicKey(),
  }
  const path = join(emptyFolder(), 'dossier.pdf')
  writeFileSync(path, await renderDossier(input, archive.signingKey()))
  const { findings, exit_code } = await verify(path, { programVersion: '0.0.0-test', expectedKey: null })
  return { chain: findings.map(({ text }) => text).filter((text) => text.includes('chain')), exit_code }
}

describe('verify(dossier)', () => {
  it('finds the chain of its records whole', async () => {
    const archive = archiveIn(emptyFolder())
    const found = await said(archive, sealed(archive, 4))
    expect(found.chain).toEqual(['chain of 4 records: whole from the first, in order'])
    expect(found.exit_code).toBe(0)
  })

  const cuts: readonly [string, (all: SealedRecord[]) => SealedRecord[], string][] = [
    ['its first', (all) => all.slice(1), '0002'],
    ['one in the middle', (all) => all.filter((_, i) => i !== 1), '0003'],
    ['all but its last', (all) => all.slice(-1), '0004'],
  ]
  for (const [name, left, before] of cuts) {
    it(`is void when ${name} is left out: a failed hold could be kept back that way`, async () => {
      const archive = archiveIn(emptyFolder())
      const all = sealed(archive, 4)
      const found = await said(archive, left(all))
      const first = all.find(({ id }) => id.startsWith(before))!.id
      expect(found.chain).toEqual([
        `the chain is broken before ${first}: a record is missing or not the one sealed`,
      ])
      expect(found.exit_code).toBe(12)
    })
  }
})
