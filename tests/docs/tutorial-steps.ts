import { spawnSync } from 'node:child_process'
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

export interface Step {
  readonly commands: readonly string[]
  readonly kind: 'runs' | 'needs a bench' | 'runs until it is stopped'
  /** Lines that the commands together print. */
  readonly prints: readonly string[]
  readonly endsWith: number
}

const block =
  /(?:<!-- (needs a bench|runs until it is stopped) -->\n)?```sh\n([\s\S]*?)```(?:\n\n(?:<!-- ends with (\d+) -->\n)?```text\n([\s\S]*?)```)?/g
const lines = (text: string | undefined) => text?.split('\n').filter((line) => line !== '') ?? []
/** The commands of the page, in order, with what it says that they print. */
export const stepsOf = (page: string): Step[] =>
  [...page.matchAll(block)].map(([, kind, commands, endsWith, prints]) => ({
    commands: lines(commands),
    kind:
      commands.trim() === 'stillhold demo' ? 'runs until it is stopped' : ((kind as Step['kind']) ?? 'runs'),
    prints: lines(prints),
    endsWith: Number(endsWith ?? 0),
  }))

/** Words of a command line as a shell parts them; the page quotes with `"` only. */
export const wordsOf = (command: string) =>
  (command.match(/"[^"]*"|\S+/g) ?? []).map((word) => word.replaceAll('"', ''))

/** Runs one line in the folder, as the tutorial's reader does. */
export function runLine(command: string, folder: string, program: string) {
  const [name, ...words] = wordsOf(command)
  const [file, args] = name === 'stillhold' ? [process.execPath, [program, ...words]] : [name, words]
  const env = { ...process.env, STILLHOLD_DATA: join(folder, 'unused'), NO_COLOR: '1' }
  return spawnSync(file, args, { cwd: folder, encoding: 'utf8', env })
}

/** The page with each line that it shows as the commands print it now; lines with figures are found by how they begin. */
export function withFreshLines(page: string, program: string): string {
  const folder = mkdtempSync(join(tmpdir(), 'stillhold-tutorial-'))
  try {
    let fresh = page
    for (const { commands, kind, prints } of stepsOf(page)) {
      if (kind !== 'runs') continue
      const said = commands.flatMap((command) => runLine(command, folder, program).stdout.split('\n'))
      for (const line of prints.filter((each) => /\d/.test(each))) {
        const begins = line.slice(0, Math.max(10, line.search(/\d/)))
        const now = said.find((each) => each.startsWith(begins))
        if (now !== undefined) fresh = fresh.replace(`\n${line}\n`, () => `\n${now}\n`)
      }
    }
    return fresh
  } finally {
    rmSync(folder, { recursive: true, force: true, maxRetries: 3 })
  }
}
