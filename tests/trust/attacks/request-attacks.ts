import { readFileSync, writeFileSync } from 'node:fs'
import { ArchiveError } from '#dashboard/archive/archive-error.ts'
import { sealPdf } from '#dashboard/archive/pdf-file.ts'
import { readSigningKey } from '#dashboard/archive/signing-key.ts'
import { verify } from '#dashboard/archive/verify.ts'
import { Intake } from '#ingest/intake/intake.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'
import { arrivalNow } from '#ingest/sources/arrival-now.ts'
import { HttpWrite } from '#ingest/sources/http-write.ts'
import { readSystemFile, systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { costlyLines, costlyRecords, costlyReports, costlySystemFiles } from '../costly-inputs.ts'
import { type Attack, Tally } from './attack.ts'
import { inWorkshop, version } from './workshop.ts'

/** Twice the goal of half a second: the machine may be slow. */
const processorMsAtMost = 1000
const megabytesAtMost = 200

const sink = { point() {}, reject() {}, comment() {}, mark() {} }
const system = systemFromFile(readFileSync('recordings/floatplane.yaml', 'utf8'), 'floatplane.yaml')

const doors: Doors = {
  HTTP: (bytes) =>
    new HttpWrite({ sink }).respond(
      new Request('http://bench/write', { method: 'POST', body: new Uint8Array(bytes) }),
    ),
  'a serial line': (bytes) => {
    const intake = new Intake({ port: 'bench', sink })
    intake.opened(arrivalNow())
    for (let at = 0; at < bytes.length; at += 4096) intake.bytes(bytes.subarray(at, at + 4096), arrivalNow())
    intake.closed(arrivalNow())
  },
  'a recording': (bytes) =>
    readRecording(Buffer.concat([Buffer.from('# stillhold recording 1\n'), bytes]), system, 'hostile.lp'),
}

const readSystem = (bytes: Buffer) => readSystemFile(bytes.toString('utf8'), 'hostile.yaml')

/** Inputs that are built to cost more than they should, each through every door that takes it. */
const costlyInputs: Attack = {
  name: 'a megabyte built to keep the program busy, through HTTP, a serial line, a recording, a system file, a report, a record',
  run: (quick) =>
    inWorkshop(async (workshop) => {
      const tally = new Tally()
      const verified = (name: string) => (bytes: Buffer) => {
        writeFileSync(workshop.path(name), bytes)
        return verify(workshop.path(name), { programVersion: version })
      }
      const key = readSigningKey(workshop.archive.folder)!
      const report = verified('hostile.pdf')
      const take = async (inputs: Inputs, through: Doors) => {
        for (const [what, make] of Object.entries(inputs).filter((_, n) => !quick || n % 6 === 0)) {
          const bytes = make()
          for (const [door, give] of Object.entries(through))
            tally.take(`${what} through ${door}`, await costOf(() => give(bytes), quick))
        }
      }
      await take(costlyLines, { ...doors, 'a system file': readSystem })
      await take(costlySystemFiles, { 'a system file': readSystem })
      await take(costlyReports, {
        'a report': report,
        'a sealed report': (bytes) => report(Buffer.from(sealPdf(bytes, key))),
      })
      await take(costlyRecords, { 'a record': verified('hostile.json') })
      return tally
    }),
}

type Inputs = Readonly<Record<string, () => Buffer>>
type Doors = Readonly<Record<string, (bytes: Buffer) => unknown>>

/** What was wrong with taking it; among the tests no cost is judged. */
async function costOf(give: () => unknown, quick: boolean): Promise<string | null> {
  const before = process.cpuUsage()
  const bytesBefore = process.memoryUsage.rss()
  try {
    const answer = await give()
    if (answer instanceof Response && answer.status >= 500) return `answered ${answer.status}`
  } catch (error) {
    // A refusal in one line is an answer.
    if (!(error instanceof UnreadableFile || error instanceof ArchiveError)) return String(error)
  }
  const { user, system: kernel } = process.cpuUsage(before)
  const ms = (user + kernel) / 1000
  const megabytes = (process.memoryUsage.rss() - bytesBefore) / 1e6
  if (quick) return null
  if (ms > processorMsAtMost) return `${Math.round(ms)} ms of processor`
  return megabytes > megabytesAtMost ? `${Math.round(megabytes)} MB` : null
}

export const requestAttacks: readonly Attack[] = [costlyInputs]
