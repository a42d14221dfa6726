import { writeFileSync } from 'node:fs'
import { archiveFolder } from '#dashboard/archive/archive-folder.ts'
import { headText } from '#dashboard/archive/chain-head.ts'
import { renderDossierPages } from '#dashboard/archive/dossier.ts'
import { sealPdf, unpacked } from '#dashboard/archive/pdf-file.ts'
import { dossierInput, printDossier, printReport } from '#dashboard/archive/print.ts'
import type { KeptRecord } from '#dashboard/archive/record.ts'
import { readSigningKey, type SigningKey } from '#dashboard/archive/signing-key.ts'
import { runProgram } from '../run-program.ts'
import { type Attack, Tally } from './attack.ts'
import { ForgedPdf } from './forged-pdf.ts'
import { inWorkshop, version, type Workshop } from './workshop.ts'

/** What the built program says of a file: its exit code must be 13, and nothing in it may be said to hold. */
async function refusal(path: string, pdf: Uint8Array, keys: readonly string[] = []): Promise<string | null> {
  writeFileSync(path, pdf)
  const { code, out, said } = await runProgram('verify', path, ...keys.flatMap((key) => ['--key', key]))
  return code === 13 ? null : `exit code ${code}\n${out}${said}`
}

function dossierOf(
  kept: readonly KeptRecord[],
  heads: readonly string[],
  key: SigningKey,
): Promise<Uint8Array> {
  const { name, text } = kept[0].record.system
  return renderDossierPages(dossierInput(kept, { system: { name, text }, heads }, key.public.base64, version))
}

/** A workshop whose hold passed, was worked on, and then failed: the newest record is the one to be hidden. */
function withFail(workshop: Workshop): void {
  workshop.hold('lines-retest')
  workshop.work('F12')
  workshop.hold('lines-leak')
}

const foreignSeals: Attack = {
  name: 'dossier with its newest record (a fail) taken out, sealed again with any key',
  run: (quick) =>
    inWorkshop(async (workshop) => {
      const tally = new Tally()
      withFail(workshop)
      const kept = workshop.archive.kept()
      const head = headText(archiveFolder(workshop.folder), '')!
      const own = readSigningKey(workshop.archive.folder)!
      for (let n = 0; n < (quick ? 1 : 20); n++)
        await inWorkshop(async (stranger) => {
          const key = readSigningKey(stranger.archive.folder)!
          const cases = {
            'without its count': [],
            'with the old count': [head],
            'with a count of his own': [headText(archiveFolder(stranger.folder), '')!],
          }
          for (const [what, heads] of Object.entries(cases)) {
            const cut = await dossierOf(kept.slice(0, -1), heads, key)
            const path = workshop.path('cut.pdf')
            tally.take(`a stranger's key, ${what}`, await refusal(path, sealPdf(cut, key)))
            tally.take(
              `a stranger's key, --key of the workshop, ${what}`,
              await refusal(path, sealPdf(cut, key), [own.public.fingerprint]),
            )
            if (n === 0 && heads !== cases['with a count of his own'])
              tally.take(
                `the workshop's key, ${what}`,
                await refusal(path, sealPdf(await dossierOf(kept.slice(0, -1), heads, own), own)),
              )
          }
          const whole = await dossierOf(kept, [head], key)
          tally.take(
            "whole, a stranger's key",
            await refusal(workshop.path('whole.pdf'), sealPdf(whole, key)),
          )
          const report = new ForgedPdf(await printReport(workshop.folder, kept[0], version))
          tally.take(
            "a report, a stranger's key",
            await refusal(workshop.path('report.pdf'), sealPdf(report.build(), key)),
          )
        })
      return tally
    }),
}

/** Ways to make a viewer show what the record does not say. `plain`: only the drawing of a page, told as not compared in a report of another version. */
const paintings: Readonly<Record<string, (pdf: ForgedPdf) => Buffer>> = {
  'an annotation over the verdict': (pdf) => {
    const look = pdf.add(
      '<<\n/Type /XObject\n/Subtype /Form\n/BBox [0 0 300 60]\n>>',
      '1 1 1 rg 0 0 300 60 re f',
    )
    const note = pdf.add(
      `<<\n/Type /Annot\n/Subtype /Stamp\n/Rect [54 700 354 760]\n/AP <<\n/N ${look} 0 R\n>>\n>>`,
    )
    return pdf
      .change(/^\/Type \/Page$/m, (text) => text.replace(/\n>>$/, `\n/Annots [${note} 0 R]\n>>`))
      .build()
  },
  'a form object drawn on the page': (pdf) => {
    const form = pdf.add(
      '<<\n/Type /XObject\n/Subtype /Form\n/BBox [0 0 300 60]\n>>',
      '1 1 1 rg 0 0 300 60 re f',
    )
    pdf.change(/^\/ProcSet /m, (text) => text.replace(/\n>>$/, `\n/XObject <<\n/X1 ${form} 0 R\n>>\n>>`))
    const page = Number(
      /\/Contents (\d+) 0 R/.exec(pdf.objects.get(pdf.find(/^\/Type \/Page$/m))!.dictionary)![1],
    )
    pdf.setContent(page, Buffer.concat([unpacked(pdf.objects.get(page)!), Buffer.from('\n/X1 Do\n')]))
    return pdf.build()
  },
  'a page box that cuts the cautions off': (pdf) =>
    pdf
      .change(/^\/Type \/Page$/m, (text) => text.replace(/\n>>$/, '\n/CropBox [0 300 595.28 841.89]\n>>'))
      .build(),
  'a page turned': (pdf) =>
    pdf.change(/^\/Type \/Page$/m, (text) => text.replace(/\n>>$/, '\n/Rotate 180\n>>')).build(),
  'an action at opening': (pdf) => {
    const action = pdf.add('<<\n/S /JavaScript\n/JS (app.alert\\(1\\))\n>>')
    return pdf
      .change(/^\/Type \/Catalog$/m, (text) => text.replace(/\n>>$/, `\n/OpenAction ${action} 0 R\n>>`))
      .build()
  },
  'a script in the names': (pdf) =>
    pdf
      .change(/^\/EmbeddedFiles <<$/m, (text) =>
        text.replace(/\n>>$/, '\n/JavaScript <<\n/Names [(a) <<\n/S /JavaScript\n/JS (1)\n>>]\n>>\n>>'),
      )
      .build(),
  'a name spelled in hexadecimal': (pdf) =>
    pdf.change(/^\/Type \/Page$/m, (text) => text.replace(/\n>>$/, '\n/#41nnots []\n>>')).build(),
  'a forged font: the shapes of two letters exchanged': (pdf) => {
    const shapes = [...pdf.objects]
      .filter(([, { dictionary }]) => /FontFile2/.test(dictionary))
      .map(([, { dictionary }]) => Number(/FontFile2 (\d+)/.exec(dictionary)![1]))
    const font = Buffer.from(unpacked(pdf.objects.get(shapes[0])!))
    const tables = font.readUInt16BE(4)
    for (let i = 0; i < tables; i++) {
      const entry = 12 + 16 * i
      if (font.toString('latin1', entry, entry + 4) !== 'loca') continue
      const at = font.readUInt32BE(entry + 8)
      const width =
        font.readUInt32BE(entry + 12) > 0 && font.readInt16BE(tableAt(font, 'head') + 50) === 1 ? 4 : 2
      // Glyphs 3 and 4 get the other's place.
      const [three, four] = [
        font.subarray(at + 3 * width, at + 4 * width),
        font.subarray(at + 4 * width, at + 5 * width),
      ]
      const kept = Buffer.from(three)
      four.copy(three)
      kept.copy(four)
    }
    pdf.setContent(shapes[0], font)
    return pdf.build()
  },
  'a map of letters that says other words than the shapes': (pdf) => {
    const map = Number(
      /ToUnicode (\d+)/.exec(pdf.objects.get(pdf.find(/^\/Subtype \/Type0$/m))!.dictionary)![1],
    )
    const text = Buffer.from(unpacked(pdf.objects.get(map)!)).toString('latin1')
    const [first, second] = text
      .match(/\[(.*)\]/)![1]
      .split(' ')
      .slice(2, 4)
    pdf.setContent(map, Buffer.from(text.replace(`${first} ${second}`, `${second} ${first}`), 'latin1'))
    return pdf.build()
  },
  'widths of letters changed': (pdf) =>
    pdf.change(/^\/W \[/m, (text) => text.replace(/\/W \[0 \[\d+ \d+/, '/W [0 [472 10')).build(),
  'bytes between the objects': (pdf) => pdf.build('% nothing to see\n'),
  'a second, newer table at the end': (pdf) => {
    const whole = pdf.build()
    const page = pdf.find(/^\/Type \/Page$/m)
    const at = whole.length
    const object = `${page} 0 obj\n<<\n/Type /Page\n/Parent 1 0 R\n/MediaBox [0 0 100 100]\n>>\nendobj\n`
    const table = `xref\n${page} 1\n${String(at).padStart(10, '0')} 00000 n \ntrailer\n${pdf.trailer}\nstartxref\n${at + object.length}\n%%EOF\n`
    return Buffer.concat([whole, Buffer.from(object + table)])
  },
  'places in the table that lead elsewhere': (pdf) => {
    const text = pdf.build().toString('latin1')
    const rows = text.match(/^\d{10} 00000 n $/gm)!
    return Buffer.from(text.replace(rows[3], rows[4]), 'latin1')
  },
  'packed objects': (pdf) => {
    pdf.add('<<\n/Type /ObjStm\n/N 1\n/First 4\n>>', '50 0 <<>>')
    return pdf.build()
  },
  'another file attached beside the record': (pdf) => {
    const file = pdf.add('<<\n/Type /EmbeddedFile\n/Subtype /text#2Fplain\n>>', 'see the other file')
    pdf.add(
      `<<\n/Type /Filespec\n/AFRelationship /Source\n/F (a.txt)\n/EF <<\n/F ${file} 0 R\n>>\n/UF (../a.txt)\n>>`,
    )
    return pdf.build()
  },
}

function tableAt(font: Buffer, name: string): number {
  for (let entry = 12; ; entry += 16)
    if (font.toString('latin1', entry, entry + 4) === name) return font.readUInt32BE(entry + 8)
}

const paintedPages: Attack = {
  name: 'report or dossier painted over (annotation, form, font, page box, script, hidden object), sealed again with the workshop’s own key',
  run: (quick) =>
    inWorkshop(async (workshop) => {
      const tally = new Tally()
      withFail(workshop)
      const { archive, folder } = workshop
      const key = readSigningKey(archive.folder)!
      const last = archive.keptRecord('3')
      const files: Record<string, Uint8Array> = { report: await printReport(folder, last, version) }
      if (!quick)
        files.dossier = await printDossier(folder, archive.kept(), { name: null, text: null }, version)
      for (const [name, sealed] of Object.entries(files))
        for (const [what, paint] of Object.entries(paintings))
          for (const writer of ['', '9.9.9']) {
            const forged = new ForgedPdf(sealed)
            if (writer !== '')
              forged.change(new RegExp(`^\\(stillhold ${version}\\)$`), () => `(stillhold ${writer})`)
            const pdf = sealPdf(paint(forged), key)
            const as = writer === '' ? name : `${name} said to be of version ${writer}`
            tally.take(`${as}, ${what}`, await refusal(workshop.path('painted.pdf'), pdf))
          }
      return tally
    }),
}

const drawnOtherwise: Attack = {
  name: 'report whose page says pass while its record says fail, sealed with the workshop’s own key',
  run: (quick) =>
    inWorkshop(async (workshop) => {
      const tally = new Tally()
      withFail(workshop)
      const { archive, folder } = workshop
      const fail = new ForgedPdf(await printReport(folder, archive.keptRecord('3'), version))
      const pass = new ForgedPdf(await printReport(folder, archive.keptRecord('1'), version))
      // Everything that is seen comes from the report of the pass; the record attached is that of the fail.
      for (const [number, object] of fail.objects)
        if (/^\/Type \/EmbeddedFile$/m.test(object.dictionary)) pass.objects.set(number, object)
      const key = readSigningKey(archive.folder)!
      tally.take(
        'pages of the pass, record of the fail',
        await refusal(workshop.path('forged.pdf'), sealPdf(pass.build(), key)),
      )
      // A single word, a single figure: each text of the page written over with another of the same page.
      const contents = [...fail.objects]
        .filter(([, { dictionary }]) => /^\/Type \/Page$/m.test(dictionary))
        .map(([, { dictionary }]) => Number(/\/Contents (\d+)/.exec(dictionary)![1]))
      const page = Buffer.from(unpacked(fail.objects.get(contents[0])!)).toString('latin1')
      const texts = [...page.matchAll(/^\[<[0-9a-f]{8,}.*\] TJ$/gm)]
      for (let i = 0; i + 1 < texts.length && i < (quick ? 3 : 60); i++) {
        const forged = new ForgedPdf(await printReport(folder, archive.keptRecord('3'), version))
        const [a, b] = [texts[i], texts[i + 1]]
        if (a[0] === b[0]) continue
        forged.setContent(
          contents[0],
          Buffer.from(page.slice(0, a.index) + b[0] + page.slice(a.index + a[0].length), 'latin1'),
        )
        tally.take(
          `text ${i} of the page`,
          await refusal(workshop.path('forged.pdf'), sealPdf(forged.build(), key)),
        )
      }
      return tally
    }),
}

const unpacking: Attack = {
  name: 'report of 1 MB whose attachment unpacks to gigabytes or is no recording',
  run: () =>
    inWorkshop(async (workshop) => {
      const tally = new Tally()
      workshop.hold('lines-retest')
      const { archive, folder } = workshop
      for (const what of [/Every sample and mark/, /The sealed record/]) {
        const forged = new ForgedPdf(await printReport(folder, archive.keptRecord('1'), version))
        const file = Number(/\/F (\d+) 0 R/.exec(forged.objects.get(forged.find(what))!.dictionary)![1])
        forged.setContent(file, Buffer.alloc(900e6))
        const path = workshop.path('bomb.pdf')
        const before = process.resourceUsage()
        tally.take(
          String(what),
          await refusal(path, sealPdf(forged.build(), readSigningKey(archive.folder)!)),
        )
        void before
      }
      return tally
    }),
}

export const reportAttacks: readonly Attack[] = [foreignSeals, paintedPages, drawnOtherwise, unpacking]
