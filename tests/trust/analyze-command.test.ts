import { spawnSync } from 'node:child_process'
import { mkdtempSync, readFileSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { plainHold, plainText } from '#tests/analysis/fit/plain-bench.ts'
import { builtProgram } from '#tests/built-program.ts'
import { root } from '#tests/house/source-files.ts'

const program = await builtProgram()
const system = 'recordings/floatplane.yaml'

function stillhold(...args: string[]) {
  const { status, stdout, stderr } = spawnSync(process.execPath, [program, ...args], {
    cwd: root,
    encoding: 'utf8',
  })
  return { status, stdout, stderr }
}

describe('stillhold analyze', () => {
  it.each([
    ['lines-retest.lp', 0],
    ['lines-leak.lp', 10],
    ['lines-at-the-limit.lp', 11],
    ['void-gap.lp', 12],
  ])('%s ends with %i (contract, section 4)', (file, code) => {
    const { status, stdout } = stillhold('analyze', `recordings/${file}`, '--system', system, '--json')
    expect(status).toBe(code)
    expect(JSON.parse(stdout)).toMatchObject({ stillhold: 1, recording: file, hold: 'feed-lines-10psi' })
  })
  it('answers in the units of the system file, and in those of --units (contract, section 6)', () => {
    const asked = ['analyze', 'recordings/lines-leak.lp', '--system', system]
    expect(stillhold(...asked).stdout).toContain('only 0.1 psi is allowed')
    // 0.1 psi is 0.689 kPa (NIST SP 811).
    expect(stillhold(...asked, '--units', 'kPa').stdout).toContain('only 0.689 kPa is allowed')
    const wrong = stillhold(...asked, '--units', 'ksi')
    expect([wrong.status, wrong.stderr.split('\n').length]).toEqual([2, 2])
    expect(wrong.stderr).toContain('--units: unknown unit "ksi"; the nearest known unit is "psi"')
  })
  it('- reads standard input, and STILLHOLD_SYSTEM stands in for --system (contract, section 6)', () => {
    const { status, stdout } = spawnSync(process.execPath, [program, 'analyze', '-', '--json'], {
      cwd: root,
      encoding: 'utf8',
      input: readFileSync(join(root, 'recordings/lines-leak.lp')),
      env: { ...process.env, STILLHOLD_SYSTEM: system },
    })
    expect(status).toBe(10)
    expect(JSON.parse(stdout).recording).toBe('standard input')
    const none = stillhold('analyze', 'recordings/lines-leak.lp')
    expect([none.status, none.stderr]).toEqual([2, expect.stringContaining('no system file is named')])
  })
  it('--explain says what makes the interval wide and what to improve first; --json carries the shares', () => {
    const asked = ['analyze', 'recordings/tank-sun.lp', '--system', system]
    expect(stillhold(...asked).stdout).not.toContain('makes the interval wide')
    // The sun stood on this tank.
    const { status, stdout } = stillhold(...asked, '--explain')
    expect(status).toBe(0)
    expect(stdout).toMatch(/width +█+▓+.*\n +What makes the interval wide: █ heat between gas and wall \d+ %/)
    expect(stdout).toMatch(/improve +first: settle longer/)
    const { budget } = JSON.parse(stillhold(...asked, '--json').stdout)
    expect(budget[0]).toEqual({ source: 'heat', share: expect.any(Number) })
  })
  it('several: one line a hold, and the worst counts', () => {
    const files = ['lines-retest.lp', 'void-gap.lp', 'lines-leak.lp'].map((f) => `recordings/${f}`)
    const { status, stdout } = stillhold('analyze', ...files, '--system', system, '--json')
    expect(status).toBe(10)
    expect(stdout.trim().split('\n')).toHaveLength(3)
  })
  it('a recording without the hold asked for is void, and says so', () => {
    const asked = ['analyze', 'recordings/lines-leak.lp', '--system', system, '--hold', 'rig-10psi']
    const { status, stdout, stderr } = stillhold(...asked, '--json')
    expect(status).toBe(12)
    expect(JSON.parse(stdout)).toMatchObject({ verdict: 'void', reasons: [{ code: 'no-hold-found' }] })
    expect(stderr).toContain('no hold rig-10psi found in it')
  })
  it('a wrong file or option is one line and 2', () => {
    const folder = mkdtempSync(join(tmpdir(), 'stillhold-'))
    const bad = join(folder, 'bad.yaml')
    writeFileSync(bad, 'stillhold: 1\nname: x\nsection: []\n')
    for (const args of [
      ['recordings/none.lp', '--system', system],
      ['recordings/lines-leak.lp', '--system', bad],
      ['recordings/lines-leak.lp', '--system', system, '--hold', 'none'],
    ]) {
      const { status, stdout, stderr } = stillhold('analyze', ...args)
      expect(status).toBe(2)
      expect(stdout).toBe('')
      expect(stderr.trim().split('\n')).toHaveLength(1)
    }
  })
  it('a key that is spelled wrong is named with its line and the nearest known key', () => {
    const folder = mkdtempSync(join(tmpdir(), 'stillhold-'))
    const bad = join(folder, 'bad.yaml')
    writeFileSync(bad, plainHold('line').system.replace('settle: 3 min', 'setle: 3 min'))
    const { status, stderr } = stillhold('analyze', 'recordings/lines-leak.lp', '--system', bad)
    expect(status).toBe(2)
    expect(stderr).toMatch(/bad\.yaml, line \d+: .*unknown key "setle"; the nearest known key is "settle"/)
    expect(stderr.trim().split('\n')).toHaveLength(1)
  })
  it('marks in a file of their own are taken into the samples of their time, in any order of the files', () => {
    const folder = mkdtempSync(join(tmpdir(), 'stillhold-'))
    const [samples, marks, file] = ['samples.lp', 'marks.lp', 'left.yaml'].map((name) => join(folder, name))
    const hold = plainHold('line')
    const work = { timeS: hold.times.holdS + 50, text: 'kind=work,id=F01 action="retighten"' }
    const withWork = [...hold.marks, work].sort((a, b) => a.timeS - b.timeS)
    writeFileSync(file, hold.system)
    writeFileSync(samples, plainText({ ...hold, marks: [] }, 'line'))
    const told = (marked: typeof withWork, ...files: string[]) => {
      writeFileSync(marks, plainText({ rows: [], marks: marked }, 'line'))
      const { status, stdout } = stillhold('analyze', ...files, '--system', file, '--json')
      const results = stdout
        .trim()
        .split('\n')
        .map((line) => JSON.parse(line))
      return [
        status,
        ...results.map(({ recording, stages, reasons }) => [recording, stages.source, reasons[0].code]),
      ]
    }
    const passed = [0, ['samples.lp', 'marks', 'leak-below-allowance']]
    expect(told([...hold.marks], samples, marks)).toEqual(passed)
    expect(told([...hold.marks], marks, samples)).toEqual(passed)
    expect(told(withWork, samples, marks)).toEqual([12, ['samples.lp', 'marks', 'work-during-hold']])
    // Alone they prove nothing.
    expect(told(withWork, marks)[0]).toBe(12)
  })
  it('plan prints the smallest leak and the budget that the same hold will have, in the words of --explain', () => {
    const asked = ['plan', '--system', system, '--hold', 'left-tank-1psi']
    const { status, stdout } = stillhold(...asked, '--json')
    expect(status).toBe(0)
    const { smallest_drop_Pa, budget } = JSON.parse(stdout)
    expect(smallest_drop_Pa).toBeGreaterThan(0)
    const words = stillhold(...asked).stdout
    expect(words).toMatch(/width +█+▓+.*\n +What makes the interval wide: █ heat between gas and wall \d+ %/)
    expect(words).toMatch(/improve +first: settle longer/)
    expect(budget[0].source).toBe('heat')
  })
})
