import { randomBytes } from 'node:crypto'
import { deflateSync } from 'node:zlib'
import { beforeAll, describe, expect, it } from 'vitest'
import { checkPdf } from '#dashboard/archive/check-pdf.ts'
import { sealPdf, unpacked } from '#dashboard/archive/pdf-file.ts'
import { printDossier } from '#dashboard/archive/print.ts'
import type { KeptRecord } from '#dashboard/archive/record.ts'
import { makeSigningKey, readSigningKey, type SigningKey } from '#dashboard/archive/signing-key.ts'
import { sha256Hex } from '#dashboard/archive/write-durably.ts'
import { ForgedPdf } from '#tests/trust/attacks/forged-pdf.ts'
import {
  archiveIn,
  emptyFolder,
  holdDraft,
  reportOf,
  tinyRecording,
  writeRecording,
} from './bench-archive.ts'

const version = '0.0.0-test'
let key: SigningKey
let stranger: SigningKey
let work: Uint8Array
let withRecording: Uint8Array
let dossier: Uint8Array
let kept: KeptRecord[]

beforeAll(async () => {
  const folder = emptyFolder()
  const archive = archiveIn(folder)
  key = readSigningKey(archive.folder)!
  stranger = makeSigningKey(emptyFolder())
  const result = { id: 'F07', action: 'remake', time_ns: '1775898000000000000' }
  const other = { systemName: 'another', systemText: 'stillhold: 1\nname: another\n' }
  const systemText = `stillhold: 1
name: high-wing floatplane, both wings
channels:
  - { id: p, measures: gauge-pressure, section: s, from: { measurement: m, field: p }, unit: Pa }
sections:
  - { id: s, medium: air, volume: 1 L }
`
  archive.seal(holdDraft(null, { kind: 'work', result, systemText }))
  const path = writeRecording(emptyFolder(), 'tiny.lp', tinyRecording)
  archive.seal(holdDraft(path, { kind: 'work', result, systemText }))
  archive.seal(holdDraft(null, { kind: 'work', result, ...other }))
  work = await reportOf(archive, '1')
  withRecording = await reportOf(archive, '2')
  kept = archive.kept()
  const system = { name: 'high-wing floatplane, both wings', text: null }
  dossier = await printDossier(folder, kept, system, version)
  archive.close()
})

const forged = (pdf: Uint8Array, change: (pdf: ForgedPdf) => void, by = key): Uint8Array => {
  const made = new ForgedPdf(pdf)
  change(made)
  return sealPdf(made.build(), by)
}
const said = async (pdf: Uint8Array, as = version) =>
  (await checkPdf(pdf, as)).findings.map(({ state, text }) => `${state}: ${text}`)

const pageOf = (pdf: ForgedPdf): number =>
  Number(/\/Contents (\d+) 0 R/.exec(pdf.objects.get(pdf.find(/^\/Type \/Page$/m))!.dictionary)![1])
const addToPage = (text: string) => (pdf: ForgedPdf) => {
  const page = pageOf(pdf)
  pdf.setContent(page, Buffer.concat([unpacked(pdf.objects.get(page)!), Buffer.from(text)]))
}
const attachedFile = (pdf: ForgedPdf, name: string): number =>
  Number(
    /\/F (\d+) 0 R/.exec(pdf.objects.get(pdf.find(new RegExp(`^/UF \\(${name}\\)$`, 'm')))!.dictionary)![1],
  )
const attach =
  (name: string, content: string, type = '/Type /EmbeddedFile') =>
  (pdf: ForgedPdf) => {
    const file = pdf.add(`<<\n${type}\n/Subtype /text#2Fplain\n>>`, content)
    pdf.add(`<<\n/Type /Filespec\n/AFRelationship /Source\n/EF <<\n/F ${file} 0 R\n>>\n/UF (${name})\n>>`)
  }
const writtenBy = (writer: string) => (pdf: ForgedPdf) =>
  void pdf.change(/^\(stillhold 0\.0\.0-test\)$/, () => `(${writer})`)
const unread = (why: string) => `broken: no sealed record can be read from it: ${why}`
const holdsSeal = () =>
  expect.stringMatching(/^holds: seal: every byte of the file is as sealed, by the key of its records /)

describe('checkPdf(report)', () => {
  it('finds seal and pages as sealed', async () => {
    for (const pdf of [work, withRecording])
      expect(await said(pdf)).toEqual([holdsSeal(), 'holds: pages: they match the attached records'])
    const { keys, links, records } = await checkPdf(work, version)
    const [{ record, sha256 }] = kept
    expect(keys).toEqual([key.public.base64])
    expect(links).toEqual([{ key: record.public_key, sequence: 1, sha256, id: record.id }])
    expect(records.map(({ id, verdict }) => [id, verdict])).toEqual([[record.id, null]])
  })

  it('under a seal by another key relies on nothing, and names the records as void', async () => {
    const { findings, records, keys } = await checkPdf(
      forged(work, () => {}, stranger),
      version,
    )
    const { fingerprint } = stranger.public
    expect(findings).toEqual([
      {
        state: 'broken',
        text: `seal: it is by key ${fingerprint.match(/.{4}/g)!.join(' ')}, not by that of its records: nothing in it can be relied on`,
      },
    ])
    expect(records).toEqual([
      { id: '0001-f07', kind: 'work', sealed: null, recomputed: null, verdict: 'void', findings: [] },
    ])
    expect(keys).toEqual([stranger.public.base64, key.public.base64])
  })

  it('without a seal, or with a broken one, says so', async () => {
    const text = Buffer.from(work).toString('latin1')
    const none = Buffer.from(text.replace(/% stillhold-seal .*\n/, ''), 'latin1')
    expect(await said(none)).toEqual(['broken: it has no seal: it was changed, or is not a test report'])
    const broken = Buffer.from(text.replace('/Lang', '/Long'), 'latin1')
    expect(await said(broken)).toEqual(['broken: seal: the file was changed after it was sealed'])
  })

  it.each<[string, (pdf: ForgedPdf) => void, string]>([
    ['another file', attach('a.txt', 'see the other file'), 'it has an attachment that no report has'],
    [
      'a file under a longer name',
      attach('record.json.json', '{}'),
      'it has an attachment that no report has',
    ],
    ['a file under a path', attach('x/recording.lp', '{}'), 'it has an attachment that no report has'],
    ['a short hash', attach(`${'a'.repeat(63)}.lp`, ''), 'it has an attachment that no report has'],
    ['a short number', attach('001-a.json', ''), 'it has an attachment that no report has'],
    [
      'a file that no name leads to',
      (pdf) => void pdf.add('<<\n/Type /EmbeddedFile\n>>', 'hidden'),
      'it has an attachment that no report has',
    ],
    [
      'a file of no type',
      attach('recording.lp', tinyRecording, '/Type /Other'),
      'it has an attachment that no report has',
    ],
    ['no JSON', attach('0002-a.json', 'no'), '0002-a.json is not as sealed: not JSON'],
    ['no UTF-8', attach('0002-a@ab+/.json', '\xff'), 'The encoded data was not valid'],
    [
      'a recording under the name of another',
      attach(`${'a'.repeat(64)}.lp`, tinyRecording),
      `${'a'.repeat(64)}.lp does not match the hash in its name`,
    ],
    ['the record of a dossier as well', attach('0001-f07.json', '{}'), '0001-f07.json is not as sealed'],
    [
      'no record',
      (pdf) =>
        void pdf.change(/^\/UF \(record\.json\)$/m, (text) =>
          text.replaceAll('(record.json)', '(recording.lp)'),
        ),
      'it carries none',
    ],
  ])('refuses a report with %s', async (_, change, why) => {
    const [finding] = await said(forged(work, change))
    expect(finding.slice(0, unread(why).length)).toBe(unread(why))
  })

  it('refuses two records in a report, and a changed one', async () => {
    const second = attach('0002-f07.json', kept[1].recordText)
    expect(await said(forged(work, second))).toEqual([unread('it carries several, as no test report does')])
    const changed = (pdf: ForgedPdf) =>
      pdf.setContent(
        attachedFile(pdf, 'record\\.json'),
        Buffer.from(kept[0].recordText.replace('remake', 'reseal')),
      )
    const { records } = await checkPdf(forged(work, changed), version)
    expect(records[0].findings[0].text).toMatch(/^signature of the record does not hold/)
  })

  it('takes a recording under its hash', async () => {
    const named = attach(`${sha256Hex(tinyRecording)}.lp`, tinyRecording)
    expect((await said(forged(work, named)))[0]).toEqual(holdsSeal())
  })

  it('unpacks a record to 16 MB at most', async () => {
    const record = (bytes: number) => (pdf: ForgedPdf) =>
      pdf.setContent(attachedFile(pdf, 'record\\.json'), Buffer.alloc(bytes, ' '))
    expect((await said(forged(work, record(16e6))))[0]).toContain('not as sealed: not JSON')
    expect((await said(forged(work, record(16e6 + 1))))[0]).toContain(
      'unpacks to more than the 16000000 bytes',
    )
  })

  it('unpacks a recording to 40 times its packed size at most', async () => {
    const noise = randomBytes(500_000)
    const recording = (times: number) => (pdf: ForgedPdf) => {
      // Zeros add a thousandth of their size.
      const size = (bytes: number) => deflateSync(Buffer.concat([noise, Buffer.alloc(bytes)])).length
      const bytes = Math.floor(times * size(times * noise.length)) - noise.length
      attach('recording.lp', '')(pdf)
      pdf.setContent(attachedFile(pdf, 'recording\\.lp'), Buffer.concat([noise, Buffer.alloc(bytes)]))
    }
    expect((await said(forged(work, recording(39.5))))[0]).toEqual(holdsSeal())
    expect((await said(forged(work, recording(40.5))))[0]).toContain('unpacks to more than')
  })

  it('printed by this version: any other drawing is broken', async () => {
    expect((await said(forged(work, addToPage('\n0 0 m 9 9 l S\n')))).at(-1)).toBe(
      'broken: pages: printed again from the attached records, a page differs: they do not show what was sealed',
    )
  })

  it('printed by another version: not compared, and what no version writes is broken', async () => {
    const by = (writer: string, change: (pdf: ForgedPdf) => void = addToPage('\nQ\n')) =>
      said(
        forged(work, (pdf) => {
          writtenBy(writer)(pdf)
          change(pdf)
        }),
      ).then((all) => all.at(-1))
    const note = (writer: string) =>
      `note: pages: printed by ${writer}, which this version ${version} cannot compare; rely on what is listed here, not on them`
    expect(await by('stillhold 9.9.9')).toBe(note('version 9.9.9'))
    expect(await by('stillhold')).toBe(note('version 0.1'))
    expect(await by('stillhold 9 9!9-abcdefghijklmnopqrstuvw')).toBe(note('version 9?9?9-abcdefghijklmn'))
    expect(await by('stillhold 9.9.9', addToPage('\n/X1 Do\n'))).toBe(
      'broken: pages: they contain the drawing instruction X1, which no version of this program writes',
    )
  })

  it('printed by another version with another font: broken', async () => {
    const change = (pdf: ForgedPdf) => {
      writtenBy('stillhold 9.9.9')(pdf)
      const descriptor = pdf.objects.get(pdf.find(/^\/FontFile2 /m))!.dictionary
      const font = Number(/^\/FontFile2 (\d+)/m.exec(descriptor)![1])
      const shapes = Buffer.from(unpacked(pdf.objects.get(font)!))
      shapes[shapes.length - 1] ^= 1
      pdf.setContent(font, shapes)
    }
    expect((await said(forged(work, change))).at(-1)).toBe(
      'broken: pages: they contain a font, which no version of this program writes',
    )
  })

  it('whose recording is not attached: its pages cannot be compared', async () => {
    const moved = (pdf: ForgedPdf) => {
      pdf.setContent(attachedFile(pdf, 'recording\\.lp'), Buffer.from('# another\n'))
    }
    expect((await said(forged(withRecording, moved))).at(-1)).toBe(
      'note: pages: a recording is not attached, so they cannot be compared; rely on what is listed here',
    )
  })
})

describe('checkPdf(dossier)', () => {
  it('whose system file cannot be read has pages that cannot be checked', async () => {
    const change = (pdf: ForgedPdf) => {
      const file = attachedFile(pdf, 'dossier\\.json')
      const about = JSON.parse(Buffer.from(unpacked(pdf.objects.get(file)!)).toString())
      pdf.setContent(
        file,
        Buffer.from(JSON.stringify({ ...about, system: { ...about.system, text: 'none' } })),
      )
    }
    expect((await said(forged(dossier, change))).at(-1)).toMatch(
      /^broken: pages: they cannot be checked: no dossier: the system file of high-wing floatplane, both wings cannot be read: /,
    )
  })

  it('finds chain, count and pages as sealed, and says what it does not show', async () => {
    const name = `chain of 3 records, key ${key.public.fingerprint.match(/.{4}/g)!.join(' ')}`
    expect(await said(dossier)).toEqual([
      holdsSeal(),
      `holds: ${name}: whole from the first, in order`,
      expect.stringMatching(new RegExp(`^holds: ${name}: complete, 3 counted and signed 2026-`)),
      'note: 1 records of other systems are attached and not shown',
      'holds: pages: they match the attached records',
    ])
    const { records, links } = await checkPdf(dossier, version)
    expect([records.map(({ id }) => id), links.map(({ id }) => id)]).toEqual([
      ['0001-f07', '0002-f07'],
      ['0001-f07', '0002-f07', '0003-f07'],
    ])
  })

  it('with a record left out of its chain says before which', async () => {
    const without = (id: string) => (pdf: ForgedPdf) => {
      const number = pdf.find(new RegExp(`^/UF \\(${id}\\.json\\)$`, 'm'))
      const file = attachedFile(pdf, `${id}\\.json`)
      for (const gone of [number, file]) pdf.objects.set(gone, { dictionary: '<<\n>>', packed: null })
    }
    const broken = (id: string) =>
      `broken: the chain is broken before ${id}: a record is missing or not the one sealed`
    expect((await said(forged(dossier, without('0002-f07'))))[1]).toBe(broken('0003-f07'))
    expect((await said(forged(dossier, without('0001-f07'))))[1]).toBe(broken('0002-f07'))
    expect((await said(forged(dossier, without('0003-f07'))))[2]).toMatch(
      /^broken: .*1 of 3 records are missing/,
    )
  })
})
