import { copyFileSync, readdirSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, it } from 'vitest'
import { archiveFolder } from '#dashboard/archive/archive-folder.ts'
import { canonicalText } from '#dashboard/archive/canonical-text.ts'
import { checkSeal, filesOf, readChain } from '#dashboard/archive/read-chain.ts'
import { readSigningKey } from '#dashboard/archive/signing-key.ts'
import { archiveIn, emptyFolder, holdDraft, tinyRecording, writeRecording } from './bench-archive.ts'

const first = '0001-left-feed-10psi'
const second = '0002-f02'
const third = '0003-f03'

/** A hold with recording and photo, then two works; closed, so that a test may change its files. */
function sealedChain(): { folder: string; file: (id: string) => string } {
  const folder = emptyFolder()
  const archive = archiveIn(folder)
  const photos = [{ name: 'tank.jpg', bytes: new Uint8Array([1, 2, 3]) }]
  archive.seal(holdDraft(writeRecording(emptyFolder(), 'left.lp', tinyRecording), { photos }))
  for (const fitting of ['F02', 'F03']) archive.seal(holdDraft(null, { kind: 'work', result: { fitting } }))
  archive.close()
  return { folder, file: (id) => join(folder, 'records', `${id}.json`) }
}

/** Changes a record and signs it again with the archive's own key, as its owner could. */
function signAgain(folder: string, path: string, change: (record: Record<string, unknown>) => object): void {
  const { signature: _, ...record } = JSON.parse(readFileSync(path, 'utf8'))
  const changed = { ...record, ...change(record) }
  const signature = readSigningKey(folder)!.sign(canonicalText(changed))
  writeFileSync(path, canonicalText({ ...changed, signature }))
}

const append = (path: string) => writeFileSync(path, `${readFileSync(path, 'latin1')}x`, 'latin1')
const onlyFileIn = (folder: string) => join(folder, readdirSync(folder)[0])
const spoil = (folder: string, what: string) => onlyFileIn(join(folder, what))

it.each<[string, (chain: ReturnType<typeof sealedChain>) => void, Record<string, string[]>]>([
  ['nothing', () => {}, {}],
  [
    'its first record taken out',
    ({ file }) => rmSync(file(first)),
    { [second]: ['the records before it are missing'] },
  ],
  [
    'one in the middle taken out',
    ({ file }) => rmSync(file(second)),
    { [third]: ['record 2 is missing before it'] },
  ],
  [
    'a file renamed',
    ({ file }) => renameSync(file(third), file('0003-f09')),
    { '0003-f09': [`the file is named 0003-f09 but the record has the id ${third}`] },
  ],
  [
    'a record put in twice',
    ({ file }) => copyFileSync(file(second), file('0002-f08')),
    {
      '0002-f08': [
        `the file is named 0002-f08 but the record has the id ${second}`,
        'there are two records 2',
      ],
    },
  ],
  [
    'another record in its place, signed with the same key',
    ({ folder, file }) => signAgain(folder, file(second), () => ({ note: 'another' })),
    { [third]: [`the chain is broken: ${second} was not the previous record when it was sealed`] },
  ],
  [
    'a record signed with another key',
    ({ file }) => {
      const other = sealedChain()
      copyFileSync(other.file(third), file(third))
    },
    {
      [third]: [
        `the chain is broken: ${second} was not the previous record when it was sealed`,
        'it is signed with another key than the previous record',
      ],
    },
  ],
  [
    'a word of a record changed',
    ({ file }) => writeFileSync(file(third), readFileSync(file(third), 'utf8').replace('"F03"', '"F04"')),
    { [third]: ['signature of the record does not hold: it was changed after sealing'] },
  ],
  [
    'a system file that its hash does not name, signed with the own key',
    ({ folder, file }) =>
      signAgain(folder, file(third), ({ system }) => ({
        system: { ...(system as object), text: 'other: 1\n' },
      })),
    { [third]: ['system file in the record does not match its hash'] },
  ],
  [
    'its recording changed',
    ({ folder }) => append(spoil(folder, 'recordings')),
    { [first]: ['recording left.lp was changed: its bytes are not those that were sealed'] },
  ],
  [
    'its recording gone',
    ({ folder }) => rmSync(spoil(folder, 'recordings')),
    { [first]: ['recording left.lp is not available: its verdict cannot be checked'] },
  ],
  [
    'its photo changed',
    ({ folder }) => append(spoil(folder, 'photos')),
    { [first]: ['photo tank.jpg was changed: its bytes are not those that were sealed'] },
  ],
  [
    'its photo gone',
    ({ folder }) => rmSync(spoil(folder, 'photos')),
    { [first]: ['photo tank.jpg is missing'] },
  ],
  [
    'a wrong length of its recording, signed with the own key',
    ({ folder, file }) =>
      signAgain(folder, file(first), ({ recording }) => ({
        recording: { ...(recording as object), bytes: 1 },
      })),
    {
      [first]: ['recording left.lp was changed: its bytes are not those that were sealed'],
      [second]: [`the chain is broken: ${first} was not the previous record when it was sealed`],
    },
  ],
  [
    'a record that is not UTF-8',
    ({ file }) => writeFileSync(file(third), Buffer.concat([readFileSync(file(third)), Buffer.from([0xff])])),
    { [third]: ['not UTF-8 text'] },
  ],
])(
  'readChain() and checkSeal(%s) say so of the record that it concerns, and nothing of the others',
  (_, change, wanted) => {
    const chain = sealedChain()
    change(chain)
    const paths = archiveFolder(chain.folder)
    const found = readChain(paths, '').map(({ id, record, placeFaults, error }) => {
      const { findings } = record ? checkSeal(record, filesOf(paths), true) : { findings: [] }
      const broken = findings.filter(({ state }) => state === 'broken')
      const faults = broken.map(({ text }) => text.replace(/ for key [\da-f ]+/, ''))
      return [id, [...placeFaults, ...[error ?? []].flat(), ...faults]] as const
    })
    expect(found.length).toBeGreaterThanOrEqual(2)
    expect(found.filter(([id, faults]) => faults.length > 0 || wanted[id])).toEqual(
      Object.entries(wanted).map(([id, faults]) => [id, faults]),
    )
  },
)
