import { spawn, spawnSync } from 'node:child_process'
import { builtProgram } from '#tests/built-program.ts'

export interface Ran {
  readonly code: number | null
  readonly out: string
  readonly said: string
}

/** Runs a command of the built program to its end. */
export async function runProgram(...args: readonly string[]): Promise<Ran> {
  const program = await builtProgram()
  const { status, stdout, stderr } = spawnSync(process.execPath, [program, ...args], {
    encoding: 'utf8',
    timeout: 60_000,
  })
  return { code: status, out: stdout, said: stderr }
}

/** The same while this process goes on, for a command that asks a server of the test. */
export async function runProgramAside(...args: readonly string[]): Promise<Ran> {
  const child = spawn(process.execPath, [await builtProgram(), ...args], {
    stdio: ['ignore', 'pipe', 'pipe'],
  })
  let [out, said] = ['', '']
  child.stdout.on('data', (part: Buffer) => {
    out += part
  })
  child.stderr.on('data', (part: Buffer) => {
    said += part
  })
  return new Promise((resolve) => child.on('close', (code) => resolve({ code, out, said })))
}
