import { execFileSync, spawnSync } from 'node:child_process'
import { mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join, sep } from 'node:path'
import { describe, expect, it } from 'vitest'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { codeOf, root, sources } from './source-files.ts'

const running = sources.filter(({ path }) => !path.startsWith('dashboard/web/'))
const filesWith = (pattern: RegExp) =>
  running.filter(({ text }) => pattern.test(codeOf(text))).map(({ path }) => path)

describe('what differs between systems', () => {
  it('stands in these files, each of which says what it does on the others', () => {
    expect(filesWith(/process\.platform/)).toEqual([
      'dashboard/archive/signing-key.ts',
      'dashboard/archive/write-durably.ts',
      'dashboard/cli/command.ts',
      'dashboard/cli/named-recordings.ts',
      'dashboard/cli/options.ts',
      'dashboard/cli/serve.ts',
    ])
  })

  it('no file calls what only POSIX systems have', () => {
    expect(
      filesWith(/\b(get(e?uid|e?gid|groups)|set(uid|gid)|l?chown|umask|symlink|mkfifo|flock)(Sync)?\(/),
    ).toEqual([])
    expect(filesWith(/['"`]\/(tmp|proc|etc|var|usr|bin)\b/)).toEqual([])
    expect(filesWith(/\.split\('\/'\)\.at\(-1\)|\.lastIndexOf\('\/'\)/)).toEqual([])
  })

  it('only the opening of a browser starts another program', () => {
    expect(filesWith(/node:child_process/)).toEqual(['dashboard/cli/serve.ts'])
  })
})

describe('names of files', () => {
  const names = ['analysis', 'ingest', 'dashboard', 'tests', 'docs', 'recordings'].flatMap((folder) =>
    readdirSync(join(root, folder), { recursive: true, encoding: 'utf8' }).map((name) => join(folder, name)),
  )

  it('stay apart where case does not count, as on macOS and Windows', () => {
    const folded = names.map((name) => name.toLowerCase())
    expect(folded.length).toBeGreaterThan(500)
    expect(folded.filter((name, index) => folded.indexOf(name) !== index)).toEqual([])
  })

  it('are names that Windows takes', () => {
    const reserved = /^(con|prn|aux|nul|com\d|lpt\d)(\.|$)|[<>:"|?*]|[ .]$/i
    expect(names.filter((name) => name.split(sep).some((part) => reserved.test(part)))).toEqual([])
  })
})

const hasGit = spawnSync('git', ['rev-parse', '--git-dir'], { cwd: root }).status === 0

describe('line ends', () => {
  it.skipIf(!hasGit)(
    `a check-out that asks for CRLF still writes LF${hasGit ? '' : ' (skipped: no git here)'}`,
    () => {
      const folder = mkdtempSync(join(tmpdir(), 'stillhold-crlf-'))
      try {
        const files = [
          'recordings/lines-leak.lp',
          'recordings/floatplane.yaml',
          'docs/safety.md',
          'package.json',
        ]
        execFileSync(
          'git',
          [
            ...['-c', 'core.autocrlf=true', '-c', 'core.eol=crlf'],
            ...['checkout-index', `--prefix=${folder}/`, '--', ...files],
          ],
          { cwd: root },
        )
        for (const file of files) expect(readFileSync(join(folder, file), 'latin1'), file).not.toContain('\r')
      } finally {
        rmSync(folder, { recursive: true, force: true })
      }
    },
  )

  it('a system file and a recording that an editor saved with CRLF say the same', () => {
    const yaml = readFileSync(join(root, 'recordings/floatplane.yaml'), 'utf8')
    const system = systemFromFile(yaml, 'floatplane.yaml')
    expect(systemFromFile(yaml.replaceAll('\n', '\r\n'), 'floatplane.yaml')).toEqual(system)
    const text = readFileSync(join(root, 'recordings/lines-retest.lp'), 'utf8')
    const asRead = readRecording(text, system, 'lines-retest.lp')
    const withCrlf = readRecording(text.replaceAll('\n', '\r\n'), system, 'lines-retest.lp')
    expect(withCrlf.marks).toEqual(asRead.marks)
    expect(withCrlf.channels).toEqual(asRead.channels)
  })
})
