import { execFileSync, spawnSync } from 'node:child_process'
import { describe, expect, it } from 'vitest'
import { command as archive } from '#dashboard/cli/archive.ts'
import { describeCommand } from '#dashboard/cli/command.ts'
import {
  bashCompletion,
  fishCompletion,
  powershellCompletion,
  zshCompletion,
} from '#dashboard/cli/completion-script.ts'
import { command as exporting } from '#dashboard/cli/export.ts'
import { newProgram } from '#dashboard/cli/new-program.ts'
import { command as verify } from '#dashboard/cli/verify.ts'

function program() {
  const made = newProgram('0.0.0-test')
  for (const [name, each] of Object.entries({ archive, export: exporting, verify }))
    describeCommand(made.command(name), each)
  return made
}

const hasBash = spawnSync('bash', ['--version']).status === 0

/** What bash offers after these words, the last of which is being typed. */
function offered(...words: string[]): string[] {
  const script = `${bashCompletion(program())}
COMP_WORDS=(${['stillhold', ...words].map((word) => `'${word}'`).join(' ')}) COMP_CWORD=${words.length}
_stillhold
printf '%s\\n' "\${COMPREPLY[@]}"`
  const out = execFileSync('bash', ['--norc', '-c', script], { encoding: 'utf8' })
  return out.split('\n').filter((line) => line !== '')
}

describe.skipIf(!hasBash)(
  `bashCompletion(program) in a real bash${hasBash ? '' : ' (skipped: no bash)'}`,
  () => {
    it('offers the commands that begin with what was typed', () => {
      expect(offered('')).toEqual(['archive', 'export', 'verify'])
      expect(offered('ve')).toEqual(['verify'])
    })

    it('offers the options of the command, and of a command inside a command', () => {
      expect(offered('verify', '--')).toEqual(['--key', '--tsa', '--json', '--help'])
      expect(offered('archive', 'reb')).toEqual(['rebuild'])
      expect(offered('archive', 'rebuild', '--')).toContain('--data')
      expect(offered('--')).toEqual(['--version', '--help'])
    })

    it('offers nothing of its own where a file is meant, so that bash offers files', () => {
      expect(offered('verify', '')).toEqual([])
    })
  },
)

describe('completion scripts of the other shells', () => {
  it.each([
    ['zsh', zshCompletion],
    ['fish', fishCompletion],
    ['powershell', powershellCompletion],
  ] as const)('%s: every command and every long option stands in it', (_shell, script) => {
    const text = script(program())
    for (const command of program().commands) {
      expect(text).toContain(command.name())
      for (const { long } of command.options) expect(text).toContain(long!.slice(2))
    }
  })

  it('powershell: a quote inside a word is doubled, and the tables name commands inside commands', () => {
    const text = powershellCompletion(program())
    expect(text).toContain("'archive rebuild' = @{ words = @(); options = @('--data'")
    expect(text).toMatch(/'--format' = @\('csv', 'lp', 'json'\)/)
  })
})
