import { copyFileSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { archiveFolder } from '#dashboard/archive/archive-folder.ts'
import { headText } from '#dashboard/archive/chain-head.ts'
import { stampHead } from '#dashboard/archive/time-stamp.ts'
import { runProgram, runProgramAside } from '../run-program.ts'
import { type Attack, Tally } from './attack.ts'
import { Authority } from './authority.ts'
import { inWorkshop } from './workshop.ts'

const stamps: Attack = {
  name: 'time stamp (RFC 3161) changed, of another authority, of another archive, or contradicted by the records’ own times',
  run: (quick) =>
    inWorkshop(async (workshop) => {
      const tally = new Tally()
      const authority = new Authority(workshop.path('authority'))
      const other = new Authority(workshop.path('other'), 'Another authority')
      const url = await authority.start()
      try {
        workshop.setClock(Date.now() - 3600_000)
        workshop.hold('lines-retest')
        const folder = join(workshop.folder, 'timestamps')
        const verified = async (...more: string[]) => runProgram('verify', workshop.folder, ...more)
        const asked = await runProgramAside('archive', 'timestamp', '--url', url, '--data', workshop.folder)
        tally.take('asked for and kept', asked.code === 0 ? null : asked.said)
        const whole = await verified('--tsa', authority.certificate)
        tally.take(
          'checked without the authority',
          /holds +time stamp: records 1 to 1 existed/.test(whole.out) && whole.code === 0 ? null : whole.out,
        )
        const foreign = await verified('--tsa', other.certificate)
        tally.take('of an authority that is not trusted', foreign.code === 13 ? null : foreign.out)

        const [stamp, head] = ['.tsr', '.json'].map((end) =>
          join(folder, readdirSync(folder).find((name) => name.endsWith(end))!),
        )
        const bytes = readFileSync(stamp)
        const flips = quick ? 12 : bytes.length
        let harmless = 0
        for (let n = 0; n < flips; n++) {
          const at = Math.floor((n * bytes.length) / flips)
          const changed = Buffer.from(bytes)
          changed[at] ^= 1 << (n % 8)
          const was = await changedStamp(changed)
          if (was === 'the same') harmless++
          else tally.take(`byte ${at} of the stamp changed`, was)
        }
        // The envelope has bytes that nobody signs, such as a status text: changed, they leave the same time said of the same
        // head. A verifier that ignored the stamp would leave all of them so.
        tally.take(
          'bytes that say nothing',
          harmless < flips / 2 ? null : `${harmless} of ${flips} changed bytes were not noticed`,
        )
        writeFileSync(stamp, bytes)

        const text = readFileSync(head, 'utf8')
        writeFileSync(head, text.replace('"count":1', '"count":2'))
        tally.take('the count under it changed', (await verified()).code === 13 ? null : 'accepted')
        rmSync(head)
        tally.take('the count under it removed', (await verified()).code === 13 ? null : 'accepted')
        writeFileSync(head, text)

        await inWorkshop(async (stranger) => {
          stranger.hold('lines-retest')
          await stampHead(archiveFolder(stranger.folder), headText(archiveFolder(stranger.folder), '')!, url)
          const theirs = join(stranger.folder, 'timestamps')
          for (const name of readdirSync(theirs)) copyFileSync(join(theirs, name), join(folder, name))
          tally.take('of another archive', (await verified()).code === 13 ? null : 'accepted')
          for (const name of readdirSync(theirs)) rmSync(join(folder, name))
        })

        workshop.setClock(Date.UTC(2021, 0, 1))
        workshop.work('F12')
        tally.take(
          'a record after it with the clock set back',
          /came after the time stamp: the clock was behind/.test((await verified()).out) ? null : 'not told',
        )
        for (const [what, forge] of Object.entries(forgeries)) {
          authority.forge = forge
          const ran = await runProgramAside('archive', 'timestamp', '--url', url, '--data', workshop.folder)
          tally.take(
            `an answer that is ${what}`,
            ran.code === 2 && ran.said.split('\n').filter(Boolean).length === 1 ? null : ran.said,
          )
        }
        return tally

        async function changedStamp(changed: Buffer): Promise<string | null | 'the same'> {
          writeFileSync(stamp, changed)
          const { code, out } = await verified('--tsa', authority.certificate)
          if (code === 13) return null
          return out === whole.out ? 'the same' : `${code} ${out}`
        }
      } finally {
        authority.stop()
      }
    }),
}

const forgeries: Readonly<Record<string, (stamp: Buffer) => Buffer>> = {
  empty: () => Buffer.alloc(0),
  'a page of text': () => Buffer.from('<html>welcome</html>'),
  'cut short': (stamp) => stamp.subarray(0, stamp.length >> 1),
  'a stamp with a changed time': (stamp) =>
    Buffer.from(stamp.toString('latin1').replace(/(20\d\d)(\d{10}Z)/, '2019$2'), 'latin1'),
  'longer than any stamp': (stamp) => Buffer.concat([stamp, Buffer.alloc(100_000)]),
  'nested without end': () => Buffer.from('30800000'.repeat(1000), 'hex'),
}

export const timeAttacks: readonly Attack[] = Authority.isThere ? [stamps] : []
