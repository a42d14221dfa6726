import { cpSync, existsSync } from 'node:fs'
import { join } from 'node:path'
import type { Command } from 'commander'
import { packageFolder } from '#dashboard/server/http/package-folder.ts'
import { type CommandDescription, runListening } from './command.ts'
import { defaultListen, demoSpeed, type ServeOptions, serve } from './serve.ts'

interface DemoOptions extends Pick<ServeOptions, 'open' | 'speed' | 'listen'> {
  readonly files?: string | true
}

export const command: CommandDescription = {
  options: [
    ['--open', 'open the page in the browser'],
    ['--speed <factor>', `how much faster than real time it runs (${demoSpeed} when absent)`],
    ['--listen <address:port>', `where the page is served (${defaultListen} when absent)`],
    ['--files [folder]', 'instead, write recordings to practice with into a new folder (recordings)'],
  ],
  examples: ['demo --open', 'demo --files'],
  run: ({ files, ...options }: DemoOptions, own: Command) =>
    runListening(own, () =>
      files === undefined
        ? serve({ ...options, demo: true, port: [], baud: [], tcp: [], replay: [] })
        : writePractice(files === true ? 'recordings' : files),
    ),
}

/** The recordings of the package, at the path that commands in the documents use. */
function writePractice(folder: string): void {
  if (existsSync(folder)) throw new Error(`${folder}: already exists; name a new folder after --files`)
  try {
    cpSync(join(packageFolder(), 'recordings'), folder, { recursive: true })
  } catch (cause) {
    throw new Error(`${folder}: cannot be written (${(cause as NodeJS.ErrnoException).code})`)
  }
  process.stdout.write(`${folder}\n`)
}
