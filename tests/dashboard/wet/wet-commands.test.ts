import { execFileSync } from 'node:child_process'
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, expect, test } from 'vitest'
import { builtProgram } from '#tests/built-program.ts'
import { root } from '#tests/house/source-files.ts'

const program = await builtProgram()
const folder = mkdtempSync(join(tmpdir(), 'wet-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))

/** The real command as a process of its own. */
function stillhold(...words: string[]): { code: number; out: string; said: string } {
  try {
    const out = execFileSync(process.execPath, [program, ...words], {
      cwd: root,
      encoding: 'utf8',
      stdio: 'pipe',
    })
    return { code: 0, out, said: '' }
  } catch (cause) {
    const { status, stdout, stderr } = cause as { status: number; stdout: string; stderr: string }
    return { code: status, out: stdout, said: stderr }
  }
}
const system = ['--system', 'recordings/wet/floatplane-wet.yaml']
const sealed = [...system, '--seal', '--data', folder]

test('level, flow, wet and torque judge the demo sheets, and the ledger counts what they locked (demo data)', () => {
  const level = stillhold(
    'level',
    'recordings/wet/left-sender.lp',
    '--channel',
    'sender-left',
    ...sealed,
    '--json',
  )
  expect(level.code).toBe(0)
  expect(JSON.parse(level.out).steps_level).toHaveLength(9)
  expect(stillhold('flow', 'recordings/wet/flow.yaml', ...sealed).code).toBe(11)
  expect(stillhold('wet', 'recordings/wet/soak.yaml', ...sealed).code).toBe(10)
  expect(stillhold('torque', 'recordings/wet/work.yaml', ...sealed).code).toBe(11)
  const { fittings } = JSON.parse(stillhold('ledger', '--data', folder, '--json').out)
  const wet = Object.fromEntries(
    fittings.map((f: { id: string; wet: { state: string } }) => [f.id, f.wet.state]),
  )
  // Without the stages before it, a night proves no joint dry; what wept has failed all the same.
  expect([wet.F01, wet.F02, wet.F03]).toEqual(['never-held', 'failed', 'never-held'])
}, 60_000)

test('level refuses a channel that is no level sender with exit code 2 and one line', () => {
  const refused = stillhold('level', 'recordings/wet/left-sender.lp', '--channel', 'p-left', ...system)
  expect(refused.code).toBe(2)
  expect(refused.said.trim().split('\n')).toEqual([expect.stringContaining('none of sender-left')])
}, 30_000)
