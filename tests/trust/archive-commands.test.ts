import { execFileSync, spawnSync } from 'node:child_process'
import { existsSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { hunt } from '#analysis/hunt/hunt.ts'
import type { HoldResult } from '#analysis/model/hold-result.ts'
import { verdictExitCode } from '#analysis/model/hold-result.ts'
import { unitsOfSystem } from '#analysis/reasons/figures.ts'
import { ArchiveEvidence } from '#dashboard/archive/archive-evidence.ts'
import { readSystemFile } from '#ingest/system-file/read-system-file.ts'
import { builtProgram } from '#tests/built-program.ts'
import { archiveIn, emptyFolder, holdDraft } from '#tests/dashboard/archive/bench-archive.ts'
import { demoRecordingPath, floatplaneText, sealDemoHold } from '#tests/dashboard/archive/sealed-hold.ts'
import { root } from '#tests/house/source-files.ts'

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

  it('campaign plans what the archive has not proven, in the units of the aircraft, and draws the sheet for the wall', () => {
    const folder = emptyFolder()
    sealDemoHold(archiveIn(folder), 'lines-proven')
    const system = new URL('../../recordings/floatplane.yaml', import.meta.url).pathname
    const pdf = join(emptyFolder(), 'wall.pdf')
    const { out, code } = stillhold('campaign', '--system', system, '--data', folder, '--pdf', pdf)
    expect(code).toBe(0)
    expect(out).toMatch(/☑ 0001-feed-lines-10psi: F11, F12/)
    expect(out).toMatch(/☐ Hold firewall-forward-10psi.*\n.*Put in V4.* 10 psi, settle 3 min, hold 10 min/)
    expect(readFileSync(pdf).subarray(0, 5).toString()).toBe('%PDF-')
    const planned = JSON.parse(stillhold('campaign', '--system', system, '--data', folder, '--json').out)
    const proves: string[] = planned.steps.flatMap((step: { proves: string[] }) => step.proves)
    expect(proves.length).toBeGreaterThan(5)
    expect(proves).not.toContain('F11')
    expect(stillhold('campaign', '--system', system, '--units', 'kPa', '--data', folder).out).toContain(
      '68.9 kPa',
    )
    expect(stillhold('campaign', '--system', system, '--data', join(folder, 'none'))).toMatchObject({
      code: 2,
    })
  }, 120_000)

  it.skipIf(spawnSync('pdftotext', ['-v']).error !== undefined)(
    'report --dossier tells on its first page the state by section, what is open, what was done and the instruments, no sentence twice',
    () => {
      const folder = emptyFolder()
      const archive = archiveIn(folder)
      for (const name of ['lines-leak', 'lines-retest', 'lines-proven']) sealDemoHold(archive, name)
      const pdf = join(emptyFolder(), 'dossier.pdf')
      stillhold('report', '--dossier', '--data', folder, '--out', pdf)
      const text = (...pages: string[]): string =>
        spawnSync('pdftotext', ['-layout', ...pages, pdf, '-'], { encoding: 'utf8' }).stdout
      const first = text('-l', '1')
      for (const heading of ['State by section', 'Open items', 'Sealed records: 3', 'Instruments'])
        expect(first).toContain(heading)
      expect(first).toMatch(/feed-lines +7 of 7 proven +0003-feed-lines-10psi +2026-04-11 +pass/)
      expect(first).toMatch(
        /left-tank +F01, F02, F03, F04, F05 +No hold has covered it\. +left-tank-1psi +38/,
      )
      const sentences = [
        ...text()
          .replaceAll(/\s+/g, ' ')
          .matchAll(/[A-Z](?:[^.]|\.(?=\d)){60,}\./g),
      ].map(([one]) => one)
      expect(sentences.length).toBeGreaterThan(5)
      // The same allowance is a figure of each hold.
      const told = sentences.filter((one) => !one.startsWith('Allowance '))
      expect(told.filter((one, i) => told.indexOf(one) !== i)).toEqual([])
    },
    120_000,
  )

  it('history lists the holds of a section with leak and work, as text, CSV and JSON', () => {
    const folder = emptyFolder()
    const archive = archiveIn(folder)
    sealDemoHold(archive, 'lines-leak')
    sealDemoHold(archive, 'lines-retest')
    const { out } = stillhold('history', 'feed-lines', '--data', folder)
    expect(out).toMatch(/feed-lines\n.*fail .*scc\/min.*\n.*work: retighten F12\n.*pass .*\(fell\)/)
    const csv = stillhold('history', '--csv', '--data', folder).out.split('\r\n')
    expect(csv[0]).toMatch(/^section,time,record,hold,verdict,leak_mol_per_s,/)
    expect(csv[2]).toContain('retighten F12,less,')
    const lines = stillhold('history', '--json', '--data', folder).out.trim().split('\n')
    expect(lines.map((line) => JSON.parse(line).verdict)).toEqual(['fail', 'pass'])
    const gauges = stillhold('history', '--gauges', '--data', folder).out
    expect(gauges).toMatch(
      /2 holds, newest zero [\d.−]+ \w+; too few holds, or too close together, to show a\s+drift/,
    )
    expect(stillhold('history', 'nose', '--data', folder)).toMatchObject({
      code: 2,
      said: expect.stringContaining('has no section "nose"'),
    })
  }, 120_000)

  it('export --table writes several archives as one table, every row with its archive', () => {
    const [one, other] = [emptyFolder(), emptyFolder()]
    sealDemoHold(archiveIn(one), 'lines-leak')
    sealDemoHold(archiveIn(other), 'lines-proven')
    const { out } = stillhold('export', '--table', '--data', one, other)
    const rows = out
      .trim()
      .split('\n')
      .map((line) => JSON.parse(line))
    const holds = rows.filter(({ row }) => row === 'hold')
    expect(holds.map(({ verdict, section }) => [verdict, section])).toEqual([
      ['fail', 'feed-lines'],
      ['pass', 'feed-lines'],
    ])
    expect(new Set(rows.map(({ archive }) => archive)).size).toBe(2)
    for (const args of [[], ['1', '--table'], ['1', '--data', one, other]])
      expect(stillhold('export', ...args)).toMatchObject({
        code: 2,
        said: expect.stringMatching(/^stillhold: .*\n$/),
      })
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

describe('stillhold analyze, hunt, compare, seal: recordings by file, pattern or number (contract, section 6)', () => {
  const system = join(root, 'recordings/floatplane.yaml')
  const recordings = join(root, 'recordings')

  it('analyze ID is the hold of that record, read with the system file it was sealed with', () => {
    const folder = emptyFolder()
    const archive = archiveIn(folder)
    const leak = sealDemoHold(archive, 'lines-leak').result as HoldResult
    const { id } = sealDemoHold(archive, 'lines-retest')
    const { out, code } = stillhold('analyze', '1', id, '--data', folder, '--json')
    const results = out
      .trim()
      .split('\n')
      .map((line) => JSON.parse(line) as HoldResult)
    expect(results.map(({ recording, verdict }) => [recording, verdict])).toEqual([
      ['lines-leak.lp', 'fail'],
      ['lines-retest.lp', 'pass'],
    ])
    expect(results[0].stages).toEqual(leak.stages)
    expect(code).toBe(10)
    expect(stillhold('compare', '1', '2', '--data', folder).out).toMatch(
      /^Before: feed-lines-10psi, fail \(lines-leak\.lp\)$/m,
    )
    const hunted = JSON.parse(
      stillhold('hunt', '1', join(recordings, 'lines-retest.lp'), '--data', folder, '--json').out,
    )
    expect(hunted.used.length).toBeGreaterThan(1)
    // Without a name: what the page reasons from, all that the archive holds.
    const { system: read } = readSystemFile(floatplaneText, 'floatplane.yaml')
    const page = hunt(read!, new ArchiveEvidence().of(archive.kept()), { units: unitsOfSystem(read!) })
    const all = stillhold('hunt', '--data', folder, '--json').out
    const { taken_at, ...found } = JSON.parse(all)
    expect(found).toEqual(JSON.parse(JSON.stringify(page)))
    expect(taken_at).toMatch(/^\d{4}-\d\d-\d\dT/)
  }, 120_000)

  it('a number without a record, a record without a recording, a pattern without a file: one line, exit code 2', () => {
    const folder = emptyFolder()
    archiveIn(folder).seal(holdDraft(null, { kind: 'work', result: { fitting: 'F07' } }))
    for (const [name, said] of [
      ['9', /^stillhold: .*no record 9/],
      ['1', /^stillhold: 0001\S*: has no recording to analyze\n$/],
      ['none-*.lp', /^stillhold: none-\*\.lp: no file fits this pattern\n$/],
    ] as const)
      for (const command of ['analyze', 'hunt']) {
        const { said: line, code, out } = stillhold(command, name, '--data', folder, '--system', system)
        expect([code, out]).toEqual([2, ''])
        expect(line).toMatch(said)
        expect(line.trim().split('\n')).toHaveLength(1)
      }
  }, 120_000)

  it('a pattern that no shell expanded is its files in the order of their names', () => {
    const { out } = stillhold('analyze', join(recordings, 'lines-re?est.*'), '--system', system, '--json')
    expect(JSON.parse(out).recording).toBe('lines-retest.lp')
  }, 120_000)

  it('seal reads the system file of STILLHOLD_SYSTEM, and keeps that readings were typed', () => {
    const folder = emptyFolder()
    const typed = join(emptyFolder(), 'typed.lp')
    const text = readFileSync(demoRecordingPath('lines-leak'), 'utf8')
    const [header, ...lines] = text.split('\n')
    const origin = `mark,kind=origin,id=p-lines source="typed",name="gauge.csv" 1775892600000000000`
    writeFileSync(typed, [header, origin, ...lines].join('\n'))
    process.env.STILLHOLD_SYSTEM = system
    try {
      expect(stillhold('seal', typed, '--operator', 'A. B.', '--data', folder).out).toBe(
        '0001-feed-lines-10psi: fail\n',
      )
    } finally {
      delete process.env.STILLHOLD_SYSTEM
    }
    const { origins } = JSON.parse(stillhold('export', '1', '--format', 'json', '--data', folder).out)
    expect(
      Object.fromEntries(origins.map((one: { channel: string; kind: string }) => [one.channel, one.kind])),
    ).toMatchObject({
      'p-lines': 'typed',
      't-lines': 'import',
    })
  }, 120_000)
})
