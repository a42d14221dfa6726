import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { builtProgram } from '#tests/built-program.ts'
import { runLine, stepsOf, wordsOf } from '#tests/docs/tutorial-steps.ts'
import { root } from '#tests/house/source-files.ts'

const steps = stepsOf(readFileSync(join(root, 'docs', 'tutorial.md'), 'utf8'))

let folder = ''
let program = ''
beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'stillhold-tutorial-'))
  program = await builtProgram()
})
afterAll(() => rmSync(folder, { recursive: true, force: true, maxRetries: 3 }))

const run = (command: string) => runLine(command, folder, program)

describe('docs/tutorial.md, typed word by word into the built program (figures that moved: npm run docs)', () => {
  it('has a command in every step from installing to the ledger', () => {
    expect(steps.length).toBeGreaterThan(8)
    expect(steps.flatMap(({ commands }) => commands).length).toBeGreaterThan(14)
  })

  it.each(
    steps.filter(({ kind }) => kind === 'runs').map((step) => [step.commands.join('; '), step] as const),
  )('%s', (_title, { commands, prints, endsWith }) => {
    const ends = commands.map((command) => run(command))
    const said = ends.map(({ stdout, stderr }) => `${stdout}\n${stderr}`).join('\n')
    expect(
      ends.slice(0, -1).map(({ status }) => status),
      said,
    ).toEqual(commands.slice(1).map(() => 0))
    expect(ends.at(-1)?.status, said).toBe(endsWith)
    for (const line of prints) expect(said).toContain(line)
  })

  it.each(
    steps.filter(({ kind }) => kind === 'runs until it is stopped').flatMap(({ commands }) => commands),
  )('%s prints the address of a page that answers, and stops', async (command) => {
    const [, ...words] = wordsOf(command)
    const bench = spawn(process.execPath, [program, ...words, '--listen', '127.0.0.1:0'], {
      cwd: folder,
      env: { ...process.env, STILLHOLD_DATA: join(folder, 'served') },
      stdio: ['ignore', 'pipe', 'ignore'],
    })
    const ended = once(bench, 'exit')
    const [first] = await Promise.race([once(bench.stdout, 'data'), ended])
    const answer = await fetch(`${String(first).trim()}/api/state`)
    expect(answer.ok).toBe(true)
    await answer.body?.cancel()
    bench.kill('SIGINT')
    expect((await ended)[0]).toBe(0)
  })

  it.each(steps.filter(({ kind }) => kind === 'needs a bench').flatMap(({ commands }) => commands))(
    '%s has options that exist',
    (command) => {
      const [, name, ...words] = wordsOf(command)
      const { stdout } = run(`stillhold ${name} --help`)
      for (const word of words.filter((each) => each.startsWith('--'))) expect(stdout).toContain(word)
    },
  )

  it('leads to the report: its last files are there', () => {
    expect(run('stillhold verify feed-lines.pdf archive').status).toBe(10)
    expect(readFileSync(join(folder, 'feed-lines.pdf')).subarray(0, 5).toString()).toBe('%PDF-')
  })
})
