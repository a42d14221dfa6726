import { type ChildProcess, spawn } from 'node:child_process'

export interface RunningProgram {
  readonly url: string
  readonly process: ChildProcess
}

/** The program as a user starts it, from the sources; resolves when it listens. */
export async function serveProgram(...options: readonly string[]): Promise<RunningProgram> {
  const child = spawn(process.execPath, ['--import', 'tsx', 'dashboard/cli/main.ts', 'serve', ...options], {
    stdio: ['ignore', 'pipe', 'pipe'],
  })
  let said = ''
  const url = await new Promise<string>((done, fail) => {
    const hear = (chunk: Buffer): void => {
      said += chunk
      const address = /http:\/\/127\.0\.0\.1:\d+/.exec(said)
      if (address) done(address[0])
    }
    child.stdout!.on('data', hear)
    child.stderr!.on('data', hear)
    child.on('exit', () => fail(new Error(`The program ended before it listened: ${said}`)))
  })
  return { url, process: child }
}

/** Sends the signal and waits until the process is gone. */
export const ended = (child: ChildProcess, signal: NodeJS.Signals = 'SIGTERM'): Promise<void> =>
  new Promise((done) => {
    if (child.exitCode !== null || child.signalCode !== null) return done()
    child.once('exit', () => done())
    child.kill(signal)
  })
