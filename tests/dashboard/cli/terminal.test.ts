import { spawnSync } from 'node:child_process'
import { stripVTControlCharacters } from 'node:util'
import { describe, expect, it } from 'vitest'
import { builtProgram } from '#tests/built-program.ts'
import { root } from '#tests/house/source-files.ts'
import { hasSocat } from '#tests/ingest/sources/pseudo-terminal.ts'

const analyze = 'analyze recordings/lines-leak.lp --system recordings/floatplane.yaml'
const command = `${process.execPath} ${await builtProgram()} ${analyze}`
const { CI: _ci, NO_COLOR: _noColor, FORCE_COLOR: _forceColor, ...rest } = process.env
const environment = { ...rest, TERM: 'xterm' }
const sequence = '\x1b['
const braille = /[\u2801-\u28ff]/

/** What a command writes to the terminal it runs in; socat is that terminal. */
function onTerminal(words: string, env: NodeJS.ProcessEnv = environment): string {
  const { stdout } = spawnSync('socat', ['-u', `EXEC:${words},pty,stderr`, '-'], {
    cwd: root,
    env,
    encoding: 'utf8',
  })
  return stdout.replaceAll('\r\n', '\n')
}

function piped(words: string) {
  const [program, ...args] = words.split(' ')
  return spawnSync(program, args, { cwd: root, env: { ...environment, CI: 'true' }, encoding: 'utf8' })
}

describe.skipIf(!hasSocat)('on a terminal (socat)', () => {
  it('stillhold analyze begins with the verdict in color and ends with the drawn curve', () => {
    const text = onTerminal(command)
    expect(text.slice(0, 40)).toContain(sequence)
    expect(stripVTControlCharacters(text)).toMatch(/^FAIL {2}feed-lines-10psi/)
    expect(text.split('\n').filter((line) => braille.test(line))).toHaveLength(8)
  })

  it('stillhold analyze has no color where NO_COLOR is set', () => {
    expect(onTerminal(command, { ...environment, NO_COLOR: '1' })).not.toContain(sequence)
  })

  it('stillhold analyze --json prints on a terminal what it prints into a file', () => {
    const { stdout } = piped(`${command} --json`)
    expect(onTerminal(`${command} --json`)).toBe(stdout)
    expect(stdout).not.toContain(sequence)
  })
})

describe('into a file', () => {
  it('stillhold analyze writes neither color nor curve, whatever the environment says of CI', () => {
    const { stdout, stderr } = piped(command)
    expect(stdout).toMatch(/^FAIL {2}feed-lines-10psi/)
    expect(stdout).not.toContain(sequence)
    expect(stdout).not.toMatch(braille)
    expect(stderr).toBe('')
  })
})
