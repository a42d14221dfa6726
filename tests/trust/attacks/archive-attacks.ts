import { copyFileSync, cpSync, existsSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import type { Ledger } from '#analysis/hunt/ledger.ts'
import { printReport } from '#dashboard/archive/print.ts'
import { type Ran, runProgram } from '../run-program.ts'
import { type Attack, Tally } from './attack.ts'
import { demoRecording, demoSystem, inWorkshop, version, Workshop } from './workshop.ts'

const exits = ({ code, out, said }: Ran, expected: number): string | null =>
  code === expected ? null : `exit code ${code}, not ${expected}\n${out}${said}`

/** A closed archive of a pass, work and a fail, copied for each try. */
async function onCopies(use: (copyOf: () => string, workshop: Workshop) => Promise<void>): Promise<void> {
  await inWorkshop(async (workshop) => {
    workshop.hold('lines-retest')
    workshop.work('F12')
    workshop.hold('lines-leak')
    let copies = 0
    await use(() => {
      const copy = workshop.path(`copy-${copies++}`)
      workshop.archive.backup(copy)
      for (const name of readdirSync(workshop.folder).filter((each) => each.startsWith('index.sqlite')))
        copyFileSync(join(workshop.folder, name), join(copy, name))
      return copy
    }, workshop)
  })
}

const recordFiles = (folder: string) =>
  readdirSync(join(folder, 'records'))
    .sort()
    .map((name) => join(folder, 'records', name))

const removeIndex = (folder: string) => {
  for (const side of ['', '-wal', '-shm']) rmSync(join(folder, `index.sqlite${side}`), { force: true })
}

const removed: Attack = {
  name: 'archive with its newest, or all, records removed: with its index and without, count kept or removed',
  run: async () => {
    const tally = new Tally()
    await onCopies(async (copyOf) => {
      for (const newest of [1, 2, 3])
        for (const index of ['kept', 'removed'])
          for (const head of ['kept', 'removed']) {
            const copy = copyOf()
            for (const path of recordFiles(copy).slice(-newest)) rmSync(path)
            if (index === 'removed') removeIndex(copy)
            if (head === 'removed') rmSync(join(copy, 'head.json'))
            const ran = await runProgram('verify', copy)
            // Without records, index and count nothing says that there ever were any: it proves nothing.
            const nothingLeft = newest === 3 && index === 'removed' && head === 'removed'
            tally.take(`${newest} removed, index ${index}, count ${head}`, exits(ran, nothingLeft ? 12 : 13))
          }
      const empty = copyOf()
      rmSync(empty, { recursive: true })
      cpSync(copyOf(), empty, { recursive: true, filter: (path) => !/records\/.|head|index/.test(path) })
      tally.take('an archive that never had one', exits(await runProgram('verify', empty), 12))
    })
    return tally
  },
}

const olderCopy: Attack = {
  name: 'an older copy of the archive, count and all, put in its place, beside a report or record made since',
  run: async () => {
    const tally = new Tally()
    await inWorkshop(async (workshop) => {
      workshop.hold('lines-retest')
      const older = workshop.path('older')
      workshop.archive.backup(older)
      const { id } = workshop.hold('lines-leak')
      const report = workshop.path('fail.pdf')
      writeFileSync(report, await printReport(workshop.folder, workshop.archive.keptRecord(id), version))
      tally.take('with the report', exits(await runProgram('verify', older, report), 13))
      const record = join(workshop.folder, 'records', `${id}.json`)
      tally.take('with the record', exits(await runProgram('verify', older, record), 13))
      const whole = await runProgram('verify', workshop.folder, report)
      tally.take('the archive itself with its report', exits(whole, 10))
      // Its count alone put back, the records cut to fit: the index and the count disagree.
      const cut = workshop.path('cut')
      workshop.archive.backup(cut)
      copyFileSync(join(older, 'head.json'), join(cut, 'head.json'))
      tally.take('the older count under all records', exits(await runProgram('verify', cut), 10))
      workshop.work('F11')
      const two = workshop.path('two')
      workshop.archive.backup(two)
      copyFileSync(join(older, 'head.json'), join(two, 'head.json'))
      tally.take('the older count, two records behind', exits(await runProgram('verify', two), 13))
    })
    return tally
  },
}

const foreignKey: Attack = {
  name: 'another valid private key in the place of the archive’s own',
  run: async () => {
    const tally = new Tally()
    await onCopies(async (copyOf, workshop) => {
      const stranger = new Workshop()
      const copy = copyOf()
      const own = readFileSync(join(copy, 'signing-key.pem'))
      copyFileSync(join(stranger.folder, 'signing-key.pem'), join(copy, 'signing-key.pem'))
      stranger.remove()
      const seal = ['seal', demoRecording('lines-retest'), '--system', demoSystem, '--operator', 'A. B.']
      const before = recordFiles(copy).length
      for (const args of [
        seal,
        ['report', '3', '--out', workshop.path('x.pdf')],
        ['archive', 'accept', '1', '--operator', 'A', '--because', 'b'],
      ]) {
        const ran = await runProgram(...args, '--data', copy)
        const fault =
          exits(ran, 2) ??
          (/is not the key of its records.*archive key --new/.test(ran.said) ? null : ran.said)
        tally.take(args[0], fault)
      }
      tally.take('no record is added', recordFiles(copy).length === before ? null : 'the chain has grown')
      writeFileSync(join(copy, 'signing-key.pem'), own)
      tally.take('with its own key again', exits(await runProgram(...seal, '--data', copy), 0))
      tally.take('the chain goes on', exits(await runProgram('verify', copy), 10))
    })
    return tally
  },
}

const tampered: Attack = {
  name: 'a failing archive with one file of it changed: the verdict must not hide it',
  run: async (quick) => {
    const tally = new Tally()
    await onCopies(async (copyOf) => {
      const files = (copy: string) => [
        ...recordFiles(copy),
        ...readdirSync(join(copy, 'recordings')).map((name) => join(copy, 'recordings', name)),
        join(copy, 'head.json'),
      ]
      for (let k = 0; k < files(copyOf()).length; k++)
        for (let n = 0; n < (quick ? 1 : 20); n++) {
          const copy = copyOf()
          const path = files(copy)[k]
          const bytes = readFileSync(path)
          const at = Math.floor(((n + 0.5) / 20) * bytes.length)
          bytes[at] ^= 1 << (n % 8)
          writeFileSync(path, bytes)
          tally.take(`byte ${at} of ${path}`, exits(await runProgram('verify', copy), 13))
        }
    })
    return tally
  },
}

const clockBack: Attack = {
  name: 'a hold sealed with the clock set back or far ahead',
  run: async () => {
    const tally = new Tally()
    for (const [what, year] of [
      ['years back', 2019],
      ['a day back', 0],
      ['first of its chain, years back', 2018],
    ] as const)
      await inWorkshop(async (workshop) => {
        if (year !== 2018) workshop.hold('lines-retest')
        workshop.setClock(year === 0 ? Date.UTC(2026, 3, 10, 9) : Date.UTC(year, 0, 1))
        workshop.hold('lines-retest')
        tally.take(
          `${what}: told when it is sealed`,
          workshop.said.some((line) => /the clock was wrong/.test(line)) ? null : 'nothing said',
        )
        const { out, code } = await runProgram('verify', workshop.folder)
        tally.take(
          `${what}: told by verify`,
          /note +sealed .*: the clock was wrong/.test(out) ? null : `${code} ${out}`,
        )
      })
    return tally
  },
}

const imported: Attack = {
  name: 'a shipped recording, or a fork of the archive, passed off as a hold at the bench',
  run: async () => {
    const tally = new Tally()
    await inWorkshop(async (workshop) => {
      workshop.archive.close()
      const data = ['--data', workshop.folder]
      const proven = async () => {
        const { out } = await runProgram('ledger', '--json', '--system', demoSystem, ...data)
        const { counts, cautions } = JSON.parse(out) as Ledger
        return { proven: counts.proven, cautions: cautions.join('\n') }
      }
      const seal = await runProgram(
        'seal',
        demoRecording('lines-retest'),
        '--system',
        demoSystem,
        '--operator',
        'A. B.',
        ...data,
      )
      tally.take('sealed as what it is', exits(seal, 0))
      const before = await proven()
      tally.take(
        'proves nothing',
        before.proven === 0 && /does not count: its readings are imported/.test(before.cautions)
          ? null
          : JSON.stringify(before),
      )
      const { out } = await runProgram('verify', workshop.folder)
      tally.take(
        'verify names its origin',
        /note +readings: IMPORTED from a file lines-retest\.lp/.test(out) ? null : out,
      )
      const because = 'recorded at the bench'
      await runProgram('archive', 'accept', '1', '--operator', 'A. B.', '--because', because, ...data)
      const after = await proven()
      tally.take(
        'counts after an explicit step, labelled',
        after.proven > 0 && after.cautions.includes(`accepted by A. B.: ${because}`)
          ? null
          : JSON.stringify(after),
      )
      // A fork: a copy that is sealed on by itself, and brought back.
      const fork = workshop.path('fork')
      await runProgram('archive', 'backup', fork, ...data)
      for (const folder of [fork, workshop.folder])
        await runProgram(
          'seal',
          demoRecording('lines-leak'),
          '--system',
          demoSystem,
          '--operator',
          folder === fork ? 'E. F.' : 'A. B.',
          '--data',
          folder,
        )
      const ran = await runProgram('archive', 'import', fork, ...data)
      tally.take(
        'a fork is refused',
        exits(ran, 2) ?? (/two archives continued one chain/.test(ran.said) ? null : ran.said),
      )
      tally.take('nothing of it is taken', existsSync(join(workshop.folder, 'chains')) ? 'it was' : null)
    })
    return tally
  },
}

export const archiveAttacks: readonly Attack[] = [
  removed,
  olderCopy,
  foreignKey,
  tampered,
  clockBack,
  imported,
]
