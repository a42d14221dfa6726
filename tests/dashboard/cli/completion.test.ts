import { execFileSync, spawnSync } from 'node:child_process'
import { chmodSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { programFor } from '#dashboard/cli/commands.ts'
import { offers } from '#dashboard/cli/completion.ts'
import { builtProgram } from '#tests/built-program.ts'

const words = async (...typed: string[]) =>
  offers(await programFor(typed), [...typed.slice(0, -1), `=${typed.at(-1)}`]).map(([word]) => word)

describe('offers(program, words)', () => {
  it('are the commands that begin with what was typed, each with what it is for', async () => {
    expect(await words('')).toContain('calibrate-check')
    expect(await words('ve')).toEqual(['verify'])
    expect(offers(await programFor([]), ['=ledg'])).toEqual([
      ['ledger', 'the state of proof of every fitting in the archive'],
    ])
  })

  it('are the options of the command, and of a command inside a command', async () => {
    expect(await words('verify', '--')).toEqual(['--key', '--tsa', '--json', '--help'])
    expect(await words('archive', 'reb')).toEqual(['rebuild'])
    expect(await words('archive', 'rebuild', '--')).toContain('--data')
    expect(await words('--')).toEqual(['--version', '--help'])
  })

  it('are the choices of an option or an argument', async () => {
    expect(await words('export', '7', '--format', '')).toEqual(['csv', 'lp', 'json'])
    expect(await words('completion', 'f')).toEqual(['fish'])
  })

  it('are none where a file is meant, so that the shell offers files', async () => {
    expect(await words('verify', '')).toEqual([])
    expect(await words('report', '--out', '')).toEqual([])
  })
})

const hasBash = spawnSync('bash', ['--version']).status === 0
const folder = mkdtempSync(join(tmpdir(), 'completion-'))
afterAll(() => rmSync(folder, { recursive: true }))

describe.skipIf(!hasBash)(
  `stillhold completion bash in a real bash${hasBash ? '' : ' (skipped: no bash)'}`,
  () => {
    it('asks the program what may come next, also after a word that is still empty', async () => {
      const program = join(folder, 'stillhold')
      writeFileSync(program, `#!/bin/sh\nexec ${process.execPath} ${await builtProgram()} "$@"\n`)
      chmodSync(program, 0o755)
      const offered = (...typed: string[]) => {
        const script = `PATH=${folder}:$PATH
eval "$(stillhold completion bash)"
COMP_WORDS=(${['stillhold', ...typed].map((word) => `'${word}'`).join(' ')}) COMP_CWORD=${typed.length}
_stillhold
printf '%s\\n' "\${COMPREPLY[@]}"`
        return execFileSync('bash', ['--norc', '-c', script], { encoding: 'utf8' })
          .split('\n')
          .filter(Boolean)
      }
      expect(offered('archive', '')).toContain('rebuild')
      expect(offered('verify', '--js')).toEqual(['--json'])
      expect(offered('verify', '')).toEqual([])
    })
  },
)

describe('stillhold completion of the other shells', () => {
  it.each([
    ['zsh', /^#compdef stillhold$/m],
    ['fish', /^complete -c stillhold /m],
    ['powershell', /^Register-ArgumentCompleter -Native -CommandName stillhold /m],
  ])('%s: the script asks the program', async (shell, registers) => {
    const script = spawnSync(process.execPath, [await builtProgram(), 'completion', shell], {
      encoding: 'utf8',
    })
    expect(script.stdout).toMatch(registers)
    expect(script.stdout).toMatch(/stillhold completion offers '?--'? /)
  })
})
