import { expect, it } from 'vitest'
import { printDossier, printReport } from '#dashboard/archive/print.ts'
import { archiveIn, emptyFolder, holdDraft } from './bench-archive.ts'
import { floatplaneText } from './sealed-hold.ts'

it('printReport() and printDossier() sign only what their own archive sealed, and say what they lack', async () => {
  const [here, there] = [emptyFolder(), emptyFolder()]
  const foreign = archiveIn(there)
  foreign.seal(holdDraft(null, { kind: 'work', result: { fitting: 'F01' } }))
  const { fingerprint } = foreign.publicKey()
  foreign.close()
  const own = archiveIn(here)
  const dossier = (name: string | null = null, text: string | null = null) =>
    printDossier(here, own.kept(), { text, name }, '0.0.0-test')
  for (const text of [null, floatplaneText])
    await expect(dossier(null, text)).rejects.toMatchObject({
      ...{ code: 'not-found', message: `no dossier from ${here}: it has no records yet` },
    })
  own.import(there)
  await expect(dossier('another')).rejects.toThrow(
    'no record of another; there are records of: high-wing floatplane, both wings',
  )
  await expect(dossier()).rejects.toMatchObject({
    ...{ code: 'key-foreign', message: expect.stringContaining('only that one can sign') },
  })
  const record = own.keptRecord(`0001-f01@${fingerprint}`)
  expect(() => printReport(here, record, '0.0.0-test')).toThrow(
    'print its report from the archive that has this key',
  )
})
