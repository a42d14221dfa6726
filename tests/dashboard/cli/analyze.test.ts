import { spawnSync } from 'node:child_process'
import { mkdtempSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
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
  it('plan prints JSON with the smallest leak', () => {
    const { status, stdout } = stillhold('plan', '--system', system, '--hold', 'left-tank-1psi', '--json')
    expect(status).toBe(0)
    expect(JSON.parse(stdout).smallest_drop_Pa).toBeGreaterThan(0)
  })
})
