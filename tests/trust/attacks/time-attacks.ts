import { X509Certificate } from 'node:crypto'
import { copyFileSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { archiveFolder } from '#dashboard/archive/archive-folder.ts'
import { headText } from '#dashboard/archive/chain-head.ts'
import { stampHead } from '#dashboard/archive/time-stamp.ts'
import { verify } from '#dashboard/archive/verify.ts'
import { sha256Hex } from '#dashboard/archive/write-durably.ts'
import { runProgram, runProgramAside } from '../run-program.ts'
import { type Attack, Tally } from './attack.ts'
import { Authority } from './authority.ts'
import { inWorkshop, version, type Workshop } from './workshop.ts'

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

        const statedBefore = await stated(workshop, [
          new X509Certificate(readFileSync(authority.certificate)),
        ])
        const [stamp, head] = ['.tsr', '.json'].map((end) =>
          join(folder, readdirSync(folder).find((name) => name.endsWith(end))!),
        )
        const bytes = readFileSync(stamp)
        const trusted = [new X509Certificate(readFileSync(authority.certificate))]
        const outside: number[] = []
        let tries = 0
        for (let at = 0; at < bytes.length; at += quick ? 97 : 7) {
          tries++
          const changed = Buffer.from(bytes)
          changed[at] ^= 1 << (at % 8)
          writeFileSync(stamp, changed)
          tally.take(
            `byte ${at} of the stamp changed`,
            (await stated(workshop, trusted)) === null ? null : 'accepted',
          )
          rmSync(stamp)
          const renamed = join(folder, `0001-${sha256Hex(changed).slice(0, 16)}`)
          writeFileSync(`${renamed}.tsr`, changed)
          copyFileSync(head, `${renamed}.json`)
          const said = await stated(workshop, trusted)
          if (said === statedBefore) outside.push(at)
          else tally.take(`byte ${at} changed and the file renamed`, said === null ? null : said)
          rmSync(`${renamed}.tsr`)
          rmSync(`${renamed}.json`)
        }
        // Tags, version numbers, names of algorithms and the signer's identifier: docs/formats/archive.md.
        tally.take(
          'bytes that nobody signs',
          outside.length < tries / 10 ? null : `${outside.length} of ${tries} changed bytes state the same`,
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
      } finally {
        authority.stop()
      }
    }),
}

/** What `verify` says of the time stamp; null when anything is broken. */
async function stated(workshop: Workshop, authorities: readonly X509Certificate[]): Promise<string | null> {
  const { findings } = await verify(workshop.folder, { programVersion: version, authorities })
  return findings.some(({ state }) => state === 'broken') ? null : findings.map(({ text }) => text).join('\n')
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
