import { spawnSync } from 'node:child_process'
import { mkdtempSync, readFileSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { builtProgram } from '#tests/built-program.ts'
import { root } from '#tests/house/source-files.ts'

const program = await builtProgram()
const folder = mkdtempSync(join(tmpdir(), 'import-'))
const system = 'recordings/floatplane.yaml'

function stillhold(args: readonly string[], input = '') {
  const { status, stdout, stderr } = spawnSync(process.execPath, [program, ...args], {
    cwd: root,
    encoding: 'utf8',
    input,
  })
  return { status, stdout, stderr }
}

/** The demo's leaking hold as a European spreadsheet writes it: decimal commas, stages in a column. */
function spreadsheet(): string {
  const rows = ['Datum;Zeit;p3 [psi];t3 (°C);Luftdruck (hPa);stage']
  let stage = ''
  for (const line of readFileSync(join(root, 'recordings/lines-leak.lp'), 'utf8').split('\n')) {
    stage = /kind=stage.* name="([\w-]+)"/.exec(line)?.[1] ?? stage
    const [, p, t, baro, seconds] = /^logger p3=(\S+),t3=(\S+),baro=(\S+) (\d+)0{9}$/.exec(line) ?? []
    if (p === undefined) continue
    const iso = new Date(Number(seconds) * 1000).toISOString()
    const numbers = [p, t, baro].map((number) => number.replace('.', ','))
    rows.push([iso.slice(0, 10), iso.slice(11, 19), ...numbers, stage].join(';'))
    stage = ''
  }
  return rows.join('\r\n')
}

describe('stillhold import', () => {
  const options = ['--system', system, '--zone', 'UTC', '--hold', 'feed-lines-10psi']

  it('a spreadsheet of a hold gives the verdict and the drop of the recording it was made from', () => {
    const file = join(folder, 'leak.csv')
    const out = join(folder, 'leak.lp')
    writeFileSync(file, spreadsheet())
    const imported = stillhold(['import', file, ...options, '--out', out])
    expect(imported.status).toBe(0)
    expect(imported.stdout).toBe(`${out}: 890 points, 9 marks, 0 rejected\n`)
    expect(imported.stderr).toMatch(/p3 \[psi\] +0,01831 +channel p-lines, psi/)
    const drop = (recording: string) => {
      const { status, stdout } = stillhold(['analyze', recording, '--system', system, '--json'])
      expect(status).toBe(10)
      return JSON.parse(stdout).leak.drop_Pa.value
    }
    expect(drop(out)).toBeCloseTo(drop('recordings/lines-leak.lp'), -1)
    const again = stillhold(['import', file, ...options, '--out', out])
    expect([again.status, again.stderr]).toEqual([
      2,
      `stillhold: ${out}: already exists; choose another name with --out, or add --force\n`,
    ])
  }, 60_000)

  it('- reads standard input and writes standard output: nothing but the recording', () => {
    const { status, stdout, stderr } = stillhold(['import', '-', ...options, '--out', '-'], spreadsheet())
    expect(status).toBe(0)
    expect(stdout).toMatch(/^# stillhold recording 1\n/)
    expect(stdout).toMatch(/id=p-lines source="import",name="standard input",/)
    expect(stderr).toContain('standard input')
  })

  it('what cannot be read is one line, exit code 2, and no file', () => {
    const bad = (text: string, ...more: string[]) =>
      stillhold(['import', '-', ...options, ...more, '--out', join(folder, 'none.lp')], text)
    for (const { status, stdout, stderr } of [
      bad(`time,p3\n${'2026-01-05 09:30:00,10\n'.repeat(35)}`),
      bad('time,p3\n2026-01-05 09:30:00,10\n', '--zone', 'Nowhere/Land'),
      bad('time,p3\n2026-01-05 09:30:00,10\n', '--column', 'x'),
      bad('time,p3\n0,10\n', '--start', 'yesterday'),
      stillhold(['import', 'none.csv', ...options, '--out', '-']),
    ]) {
      expect([status, stdout]).toEqual([2, ''])
      expect(stderr).toMatch(/^stillhold: [^\n]+\n$/)
    }
    expect(() => readFileSync(join(folder, 'none.lp'))).toThrow(/ENOENT/)
  })
})

describe('stillhold init', () => {
  it('writes a file that plan takes, with its schema beside it; not over one that is there, nor without a layout', () => {
    const out = join(folder, 'aircraft.yaml')
    const { status, stdout } = stillhold([
      'init',
      '--layout',
      'low-wing',
      '--instruments',
      'each',
      '--out',
      out,
    ])
    expect([status, stdout]).toEqual([0, `${out}\n`])
    expect(JSON.parse(readFileSync(join(folder, 'system-file.schema.json'), 'utf8')).title).toContain(
      'system file',
    )
    expect(stillhold(['plan', '--system', out, '--hold', 'left-feed-hold']).status).toBe(0)
    expect(stillhold(['init', '--layout', 'low-wing', '--out', out]).stderr).toBe(
      `stillhold: ${out}: already exists; choose another name with --out, or add --force\n`,
    )
    expect(stillhold(['init', '--out', '-'])).toMatchObject({ status: 2, stdout: '' })
    expect(stillhold(['init', '--layout', 'nose-tank', '--out', '-']).stdout).toMatch(
      /^# yaml-language-server/,
    )
  })
})
