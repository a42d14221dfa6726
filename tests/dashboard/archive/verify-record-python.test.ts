import { spawnSync } from 'node:child_process'
import { createHash } from 'node:crypto'
import { mkdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { canonicalText } from '#dashboard/archive/canonical-text.ts'
import { archiveIn, emptyFolder, holdDraft, tinyRecording, writeRecording } from './bench-archive.ts'

const script = fileURLToPath(new URL('../../../docs/formats/verify_record.py', import.meta.url))
const python = (input: readonly string[], stdin = '') =>
  spawnSync('python3', input, { encoding: 'utf8', input: stdin, maxBuffer: 1 << 26 })
const isHere = python(['--version']).status === 0

describe.skipIf(!isHere)(
  `docs/formats/verify_record.py${isHere ? '' : ': skipped, python3 is not here'}`,
  () => {
    function sealedFolder(): { folder: string; record: string } {
      const folder = emptyFolder()
      const archive = archiveIn(folder)
      const recording = writeRecording(emptyFolder(), 'tiny.lp', tinyRecording)
      const photos = [{ name: 'Dose »Öl« €.jpg', bytes: new Uint8Array([1, 2]) }]
      const { id } = archive.seal(holdDraft(recording, { photos, note: 'tab\t “quotes” \u{1F6E9}' }))
      archive.seal(
        holdDraft(null, { kind: 'work', result: { fitting: 'F07', torque_Nm: 14.1, tiny: 1.5e-9 } }),
      )
      archive.close()
      return { folder, record: join(folder, 'records', `${id}.json`) }
    }

    it('verify_record.py FOLDER agrees that a sealed archive holds', () => {
      const { folder } = sealedFolder()
      const { stdout, stderr, status } = python([script, folder])
      expect(stderr).toBe('')
      expect(stdout).toMatch(
        /^0001-left-feed-10psi: holds, key [0-9a-f]{16}, readings: .+\n0002-f07: holds, key [0-9a-f]{16}\nhead\.json: holds, fits the 2 records\n$/,
      )
      expect(status).toBe(0)
    })

    it('verify_record.py FOLDER finds a changed verdict and the break it leaves in the chain', () => {
      const { folder, record } = sealedFolder()
      writeFileSync(record, readFileSync(record, 'utf8').replace('"verdict":"pass"', '"verdict":"fail"'))
      const { stdout, status } = python([script, folder])
      expect(stdout).toContain('0001-left-feed-10psi: its signature does not hold')
      expect(stdout).toContain('0002-f07: it does not follow the previous record')
      expect(status).toBe(1)
    })

    it('verify_record.py FOLDER finds a record cut off the end, a changed count and a missing one by head.json', () => {
      const cut = sealedFolder()
      rmSync(join(cut.folder, 'records', '0002-f07.json'))
      expect(python([script, cut.folder]).stdout).toContain('head.json: it counts 2 records, and 1 are here')
      const { folder } = sealedFolder()
      const head = join(folder, 'head.json')
      writeFileSync(head, readFileSync(head, 'utf8').replace('"count":2', '"count":1'))
      const { stdout, status } = python([script, folder])
      expect(stdout).toContain('head.json: its signature does not hold')
      expect(status).toBe(1)
      rmSync(head)
      expect(python([script, folder]).stdout).toContain('head.json: it is missing')
    })

    it('verify_record.py FOLDER finds a time stamp that was changed, and one of another archive', () => {
      const { folder } = sealedFolder()
      mkdirSync(join(folder, 'timestamps'))
      const head = readFileSync(join(folder, 'head.json'))
      // The authority's signature is not checked here: any bytes that hold the hash of the count stand for its answer.
      const stamp = Buffer.concat([Buffer.from('answer'), createHash('sha256').update(head).digest()])
      const hash = createHash('sha256').update(stamp).digest('hex').slice(0, 16)
      const at = (end: string) => join(folder, 'timestamps', `0002-${hash}.${end}`)
      writeFileSync(at('tsr'), stamp)
      writeFileSync(at('json'), head)
      expect(python([script, folder]).stdout).toContain(
        `0002-${hash}.tsr: holds, unchanged and of this archive`,
      )
      writeFileSync(at('tsr'), stamp.fill(0, 0, 1))
      expect(python([script, folder]).stdout).toContain('.tsr: it was changed after it was stored')
      const other = readFileSync(join(sealedFolder().folder, 'head.json'))
      writeFileSync(at('json'), other)
      const { stdout, status } = python([script, folder])
      expect(stdout).toContain('it is of another count; the records it counts are not in this archive')
      expect(status).toBe(1)
    })

    it('verify_record.py FOLDER finds a changed recording', () => {
      const { folder } = sealedFolder()
      const archive = archiveIn(folder)
      writeFileSync(archive.recordingPath('1')!, `${tinyRecording}\n`)
      archive.close()
      expect(python([script, folder]).stdout).toContain('0001-left-feed-10psi: tiny.lp was changed')
    })

    it('its canonical JSON writes 2,000 arbitrary values exactly as ours does', () => {
      const numbers = fc.sample(fc.double({ noNaN: true, noDefaultInfinity: true }), 1000)
      const values = [...numbers, ...fc.sample(fc.jsonValue(), 1000)].map((value) => [value])
      const code = [
        `import sys; sys.path.insert(0, ${JSON.stringify(join(script, '..'))}); sys.dont_write_bytecode = True`,
        'import json, verify_record',
        'for line in sys.stdin: print(json.dumps(verify_record.canonical(json.loads(line))))',
      ].join('\n')
      const { stdout, stderr } = python(
        ['-c', code],
        values.map((value) => `${JSON.stringify(value)}\n`).join(''),
      )
      expect(stderr).toBe('')
      expect(
        stdout
          .trimEnd()
          .split('\n')
          .map((line) => JSON.parse(line)),
      ).toEqual(values.map(canonicalText))
    })

    it('its Ed25519 accepts test 3 of RFC 8032 section 7.1 and refuses one changed bit of it', () => {
      const code = [
        `import sys; sys.path.insert(0, ${JSON.stringify(join(script, '..'))}); sys.dont_write_bytecode = True`,
        'from verify_record import ed25519_holds',
        "key = bytes.fromhex('fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025')",
        "sig = bytes.fromhex('6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a')",
        "print(ed25519_holds(key, bytes.fromhex('af82'), sig), ed25519_holds(key, bytes.fromhex('af83'), sig))",
      ].join('\n')
      expect(python(['-c', code]).stdout).toBe('True False\n')
    })
  },
)
