import { execFileSync } from 'node:child_process'
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, expect, test } from 'vitest'
import { builtProgram } from '#tests/built-program.ts'
import { root } from '#tests/house/source-files.ts'

const program = await builtProgram()
const folder = mkdtempSync(join(tmpdir(), 'evening-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))

function stillhold(...words: string[]): { code: number; out: string } {
  try {
    const out = execFileSync(process.execPath, [program, ...words], {
      cwd: root,
      encoding: 'utf8',
      stdio: 'pipe',
    })
    return { code: 0, out }
  } catch (cause) {
    const { status, stdout } = cause as { status: number; stdout: string }
    return { code: status, out: stdout }
  }
}

const data = ['--data', join(folder, 'archive')]
const sealed = ['--system', 'recordings/wet/floatplane-wet.yaml', '--seal', ...data, '--json']
const sheet = (command: string, name: string) => {
  const { out } = stillhold(command, `recordings/wet/${name}.yaml`, ...sealed)
  return out
    .trim()
    .split('\n')
    .map((line) => JSON.parse(line).verdict)
}
const states = (...ids: string[]) => {
  const { fittings } = JSON.parse(stillhold('ledger', ...data, '--json').out)
  return ids.map((id) => fittings.find((one: { id: string }) => one.id === id).wet.state)
}

test('an evening by the commands: a few liters in, pump on, two weeps, worked on, pressed again, filled, drained, calibrated, to a dossier that verifies (demo sheets)', () => {
  for (const name of ['before-fuel', 'initial-fill', 'opened']) expect(sheet('wet', name)).toEqual(['pass'])
  expect(sheet('wet', 'pump-on')).toEqual(['fail'])
  expect(states('F12', 'F16', 'F11')).toEqual(['failed', 'failed', 'proven'])
  expect(sheet('torque', 'evening-work')).toEqual(['pass', 'pass'])
  expect(sheet('wet', 'pump-on-again')).toEqual(['pass'])
  expect(states('F12', 'F16')).toEqual(['proven', 'proven'])
  expect(sheet('wet', 'soak')).toEqual(['fail'])
  expect(states('F01', 'F02', 'F03')).toEqual(['never-held', 'failed', 'proven'])
  expect(sheet('wet', 'drain')).toEqual(['pass'])
  const sender = ['recordings/wet/left-sender.lp', '--channel', 'sender-left']
  expect(JSON.parse(stillhold('level', ...sender, ...sealed).out).verdict).toBe('pass')
  const file = join(folder, 'dossier.pdf')
  expect(stillhold('report', '--dossier', '--out', file, ...data).code).toBe(0)
  const verified = stillhold('verify', file, '--json')
  expect(verified.code).toBe(10)
  expect(JSON.parse(verified.out).records.map((r: { recomputed: string }) => r.recomputed)).toEqual([
    'pass',
    'pass',
    'pass',
    'fail',
    'pass',
    'pass',
    'pass',
    'fail',
    'pass',
    'pass',
  ])
}, 120_000)

test('plan bars a hold of the sections whose sealant still cures, from the archive of the torque sheet', () => {
  const work = join(folder, 'reseal.yaml')
  const at = new Date(Date.now() - 3_600_000).toISOString()
  writeFileSync(
    work,
    `work: [{ fitting: F02, action: reseal, sealant: tank sealant, cure: 48 h, by: ab, at: "${at}" }]`,
  )
  stillhold('torque', work, ...sealed)
  const cautions = (hold: string) => {
    const system = ['--system', 'recordings/wet/floatplane-wet.yaml']
    const plan = JSON.parse(stillhold('plan', ...system, '--hold', hold, ...data, '--json').out)
    return plan.cautions.filter((one: { topic: string }) => one.topic === 'sealant-curing')
  }
  expect(cautions('left-tank-1psi')).toEqual([
    expect.objectContaining({ message: 'The sealant of F02 cures for another 47 h: no hold before.' }),
  ])
  expect(cautions('right-tank-1psi')).toEqual([])
}, 60_000)
