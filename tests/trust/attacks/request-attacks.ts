import { readFileSync } from 'node:fs'
import { Intake } from '#ingest/intake/intake.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'
import { arrivalNow } from '#ingest/sources/arrival-now.ts'
import { HttpWrite } from '#ingest/sources/http-write.ts'
import { readSystemFile, systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { costlyLines } from '../costly-inputs.ts'
import { type Attack, Tally } from './attack.ts'

/** Ten times the goal of half a second: lines of one or two bytes cost more than long ones, and the machine may be busy. */
const processorMsAtMost = 5000

const sink = { point() {}, reject() {}, comment() {}, mark() {} }
const system = systemFromFile(readFileSync('recordings/floatplane.yaml', 'utf8'), 'floatplane.yaml')

const doors: Readonly<Record<string, (bytes: Buffer) => unknown>> = {
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
  'a system file': (bytes) => readSystemFile(bytes.toString('utf8'), 'hostile.yaml'),
}

/** One megabyte that is built to cost more than it should, through every door that takes lines. */
const costlyMegabytes: Attack = {
  name: 'a megabyte built to keep the program busy, through HTTP, a serial line, a recording, a system file',
  async run(quick) {
    const tally = new Tally()
    for (const [what, make] of Object.entries(costlyLines).filter((_, n) => !quick || n % 6 === 0)) {
      const bytes = make()
      for (const [door, give] of Object.entries(doors)) {
        const before = process.cpuUsage()
        let fault: string | null = null
        try {
          const answer = await give(bytes)
          if (answer instanceof Response && answer.status >= 500) fault = `answered ${answer.status}`
        } catch (error) {
          // A refusal in one line is an answer.
          if (!(error instanceof UnreadableFile)) fault = String(error)
        }
        const { user, system: kernel } = process.cpuUsage(before)
        const ms = (user + kernel) / 1000
        // Not among the tests, where no time is judged.
        if (!quick && ms > processorMsAtMost) fault = `${Math.round(ms)} ms`
        tally.take(`${what} through ${door}`, fault)
      }
    }
    return tally
  },
}

export const requestAttacks: readonly Attack[] = [costlyMegabytes]
