import { execFileSync } from 'node:child_process'
import { existsSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import type { HoldResult } from '#analysis/model/hold-result.ts'
import { verdictExitCode } from '#analysis/model/hold-result.ts'
import { builtProgram } from '#tests/built-program.ts'
import { archiveIn, emptyFolder, holdDraft } from './bench-archive.ts'
import { demoRecordingPath, sealDemoHold } from './sealed-hold.ts'

const program = await builtProgram()

/** Runs the program as a user does; what it prints, what it says beside, and its exit code. */
function stillhold(...args: string[]): { out: string; said: string; code: number } {
  try {
    const out = execFileSync(process.execPath, [program, ...args], {
      encoding: 'utf8',
      stdio: ['ignore', 'pipe', 'pipe'],
      maxBuffer: 1 << 28,
    })
    return { out, said: '', code: 0 }
  } catch (cause) {
    const { stdout, stderr, status } = cause as { stdout: string; stderr: string; status: number }
    return { out: stdout, said: stderr, code: status }
  }
}

describe('stillhold report, verify, export, archive', () => {
  it('report ID, then verify the file: exit code of the verdict, one line that says what holds', () => {
    const folder = emptyFolder()
    // The archive stays open, as under a running bench: these commands read beside it.
    const record = sealDemoHold(archiveIn(folder), 'lines-leak')
    const code = verdictExitCode[(record.result as HoldResult).verdict]
    const pdf = join(emptyFolder(), 'lines.pdf')
    expect(stillhold('report', '1', '--data', folder, '--out', pdf)).toMatchObject({
      out: `${pdf}\n`,
      code: 0,
    })
    const verified = stillhold('verify', pdf)
    expect(verified.out.split('\n')[0]).toBe(
      `${pdf}: everything checked holds, verdict ${(record.result as HoldResult).verdict}`,
    )
    expect(verified.code).toBe(code)
    const [line] = stillhold('verify', pdf, '--json').out.split('\n')
    expect(JSON.parse(line)).toMatchObject({ file: pdf, kind: 'report', exit_code: code })

    const dossier = join(emptyFolder(), 'dossier.pdf')
    expect(stillhold('report', '--dossier', '--data', folder, '--out', dossier).code).toBe(0)
    expect(stillhold('verify', dossier).code).toBe(code)
  }, 120_000)

  it('export ID --format lp is the recording and --format json the sealed record, byte for byte', () => {
    const folder = emptyFolder()
    const archive = archiveIn(folder)
    const { id } = sealDemoHold(archive, 'lines-leak')
    const recording = readFileSync(demoRecordingPath('lines-leak'), 'utf8')
    expect(stillhold('export', id, '--format', 'lp', '--data', folder).out === recording).toBe(true)
    expect(stillhold('export', id, '--format', 'json', '--data', folder).out).toBe(archive.getText(id))
    expect(stillhold('export', id, '--data', folder).out).toMatch(
      /^time,seconds,p-lines_Pa,t-lines_K,baro_Pa,mark\r\n/,
    )
  }, 120_000)

  it('what the user got wrong is one line on standard error, exit code 2, and no file', () => {
    const folder = emptyFolder()
    const archive = archiveIn(folder)
    archive.seal(holdDraft(null, { kind: 'work', result: { fitting: 'F07' } }))
    const out = join(emptyFolder(), 'none.csv')
    const missing = stillhold('export', '9', '--data', folder, '--out', out)
    expect(missing).toMatchObject({ out: '', code: 2 })
    expect(missing.said).toBe(`stillhold: no record 9 in ${folder}: see the list of records\n`)
    expect(existsSync(out)).toBe(false)
    const inUse = stillhold('archive', 'rebuild', '--data', folder)
    expect(inUse.code).toBe(2)
    expect(inUse.said).toMatch(/^stillhold: archive .* is in use by process \d+ on .*\n$/)
  }, 120_000)
})
