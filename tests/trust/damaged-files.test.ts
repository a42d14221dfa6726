import { copyFileSync, cpSync, readdirSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { archiveIn, emptyFolder } from '#tests/dashboard/archive/bench-archive.ts'
import { demoRecordingPath, sealDemoHold } from '#tests/dashboard/archive/sealed-hold.ts'
import { type Ran, runProgram } from './run-program.ts'

const floatplane = new URL('../../recordings/floatplane.yaml', import.meta.url).pathname
/** It leaks three allowances: no damage may turn that into a pass. */
const recording = demoRecordingPath('lines-leak')

/** Ways a file gets damaged; each is applied to every format. */
const damages: Readonly<Record<string, (bytes: Buffer) => Buffer>> = {
  empty: () => Buffer.alloc(0),
  'cut at a third': (bytes) => bytes.subarray(0, Math.floor(bytes.length / 3)),
  'a block of zeros in the middle': (bytes) => {
    const at = Math.floor(bytes.length / 2)
    return Buffer.concat([bytes.subarray(0, at), Buffer.alloc(512), bytes.subarray(at + 512)])
  },
  'every 97th byte changed': (bytes) =>
    Buffer.from(bytes.map((byte, i) => (i % 97 === 50 ? byte ^ 0x15 : byte))),
}

/** Told in plain words, never a pass, never a stack. */
function isTold({ code, out, said }: Ran): void {
  expect(code).not.toBeNull()
  expect([2, 10, 11, 12, 13]).toContain(code)
  expect(`${out}${said}`).not.toMatch(/^\s+at .*:\d+:\d+\)?$/m)
  expect(`${out}${said}`.trim()).not.toBe('')
  if (code === 2) expect(said.trim().split('\n')).toHaveLength(1)
}

async function damaged(name: string, from: string, damage: (bytes: Buffer) => Buffer): Promise<string> {
  const path = join(emptyFolder(), name)
  writeFileSync(path, damage(readFileSync(from)))
  return path
}

describe('a damaged file is told in plain words and never passes', () => {
  for (const [how, damage] of Object.entries(damages)) {
    it(`recording, ${how}`, async () => {
      const path = await damaged('hold.lp', recording, damage)
      isTold(await runProgram('analyze', path, '--system', floatplane))
    })

    it(`system file, ${how}`, async () => {
      const path = await damaged('aircraft.yaml', floatplane, damage)
      const ran = await runProgram('analyze', recording, '--system', path)
      isTold(ran)
      expect(ran.code).toBe(2)
    })

    it(`record and certificate, ${how}`, async () => {
      const folder = emptyFolder()
      const archive = archiveIn(folder)
      const { id } = sealDemoHold(archive, 'lines-retest')
      archive.close()
      const record = await damaged(`${id}.json`, join(folder, 'records', `${id}.json`), damage)
      isTold(await runProgram('verify', record))
      const pdf = join(emptyFolder(), 'certificate.pdf')
      expect((await runProgram('certify', id, '--data', folder, '--out', pdf)).code).toBe(0)
      isTold(await runProgram('verify', await damaged('certificate.pdf', pdf, damage)))
    })

    it(`index of the archive, ${how}: made anew, no record is lost`, () => {
      const folder = emptyFolder()
      const archive = archiveIn(folder)
      const { id } = sealDemoHold(archive, 'lines-leak')
      archive.close()
      const copy = emptyFolder()
      cpSync(folder, copy, { recursive: true })
      for (const name of readdirSync(copy).filter((each) => /^index\.sqlite-/.test(each)))
        writeFileSync(join(copy, name), '')
      copyFileSync(join(folder, 'index.sqlite'), join(copy, 'index.sqlite'))
      writeFileSync(join(copy, 'index.sqlite'), damage(readFileSync(join(folder, 'index.sqlite'))))
      const again = archiveIn(copy)
      expect(again.list().map((each) => each.id)).toEqual([id])
      again.close()
    })
  }
})
