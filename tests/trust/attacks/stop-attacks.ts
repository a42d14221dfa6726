import { cpSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { basename, join } from 'node:path'
import { openArchive } from '#dashboard/archive/archive.ts'
import { verify } from '#dashboard/archive/verify.ts'
import { seededRandom } from '#ingest/simulator/random.ts'
import { type Attack, Tally } from './attack.ts'
import { DiskLog } from './disk-log.ts'
import { inWorkshop, version, type Workshop } from './workshop.ts'

/** Seals three holds of a few bytes, one with a photo, as the bench does; `sealed` is told after each. */
function sealThree(workshop: Workshop, sealed: () => void): void {
  for (let n = 0; n < 3; n++) {
    const path = workshop.path('tiny.lp')
    writeFileSync(path, `# stillhold recording 1\nlogger p3=10.0${n},t3=18.4 1775898000000000000\n`)
    const photos = n === 1 ? [{ name: 'fitting.jpg', bytes: new Uint8Array([255, 216, 255, 217]) }] : []
    workshop.seal({
      kind: 'correction',
      recordingPath: path,
      result: { stillhold: 1, subject: `hold ${n}` },
      photos,
    })
    sealed()
  }
}

/** What is wrong with an archive that was stopped: it must open, hold every record that was answered, verify and go on. */
async function faultOf(folder: string, answered: number): Promise<string | null> {
  try {
    const archive = openArchive(folder, { programVersion: version })
    const count = archive.list().length
    archive.seal({
      kind: 'correction',
      recordingPath: null,
      systemText: 'stillhold: 1\n',
      systemName: 'x',
      result: { stillhold: 1, subject: 'after' },
      operator: null,
    })
    archive.close()
    if (count < answered) return `${answered} records were answered, ${count} are there`
    const report = await verify(folder, { programVersion: version })
    const all = [...report.findings, ...report.records.flatMap(({ findings }) => findings)]
    return all.find(({ state }) => state === 'broken')?.text ?? null
  } catch (error) {
    return (error as Error).message
  }
}

const powerCuts: Attack = {
  name: 'power cut in sealing: what was not forced to the disk is lost, in whole or in part',
  run: (quick) =>
    inWorkshop(async (workshop) => {
      const tally = new Tally()
      const log = new DiskLog(workshop.folder)
      const answeredAt: number[] = []
      log.watch(() => sealThree(workshop, () => answeredAt.push(log.steps.length)))
      const random = seededRandom(1)
      for (let round = 0; round < (quick ? 2 : 12); round++)
        for (let steps = 0; steps <= log.steps.length; steps++) {
          const folder = mkdtempSync(join(workshop.home, 'cut-'))
          // The first round keeps nothing that was not forced; the second everything; then chance decides.
          log.layOut(folder, steps, () => (round === 0 ? false : round === 1 || random.chance(0.5)))
          // The index is of no account: a cut can leave it at any earlier state, or none.
          for (const side of ['', '-wal', '-shm'])
            rmSync(join(folder, `index.sqlite${side}`), { force: true })
          const answered = answeredAt.filter((at) => at <= steps).length
          tally.take(`after ${steps} steps, round ${round}`, await faultOf(folder, answered))
          rmSync(folder, { recursive: true })
        }
      return tally
    }),
}

const stops: Attack = {
  name: 'the program stopped after any operation on a file in sealing, its index beside it',
  run: () =>
    inWorkshop(async (workshop) => {
      const tally = new Tally()
      const log = new DiskLog(workshop.folder)
      const copies: { readonly folder: string; readonly answered: number }[] = []
      let answered = 0
      log.watch(() => {
        const push = log.steps.push.bind(log.steps)
        log.steps.push = (...steps) => {
          const length = push(...steps)
          const folder = mkdtempSync(join(workshop.home, 'stop-'))
          // The lock belongs to the running process and is dropped when any of its handles closes.
          cpSync(workshop.folder, folder, {
            recursive: true,
            filter: (from) => !/^lock/.test(basename(from)),
          })
          copies.push({ folder, answered })
          return length
        }
        sealThree(workshop, () => answered++)
      })
      for (const copy of copies) tally.take(copy.folder, await faultOf(copy.folder, copy.answered))
      return tally
    }),
}

export const stopAttacks: readonly Attack[] = [stops, powerCuts]
