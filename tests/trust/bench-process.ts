import { type ChildProcess, spawn } from 'node:child_process'
import type { LiveState } from '#dashboard/api.ts'
import { builtProgram } from '#tests/built-program.ts'
import { type Asked, ask, send } from '#tests/dashboard/server/ask.ts'
import { until } from '#tests/dashboard/server/until.ts'

/** `stillhold serve` as a process of its own, spoken to as the page does. */
export class BenchProcess {
  readonly child: ChildProcess
  readonly port: number
  /** What it says on standard error. */
  readonly said: () => string

  private constructor(child: ChildProcess, port: number, said: () => string) {
    this.child = child
    this.port = port
    this.said = said
  }

  /** Resolves when it answers; rejects with what it said when it ends before. */
  static async start(args: readonly string[], prefix: readonly string[] = []): Promise<BenchProcess> {
    const program = await builtProgram()
    const [command, ...rest] = [...prefix, process.execPath, program, 'serve', '--listen', '127.0.0.1:0']
    const child = spawn(command, [...rest, ...args], { stdio: ['ignore', 'pipe', 'pipe'] })
    let said = ''
    child.stderr!.on('data', (chunk: Buffer) => {
      said += chunk
    })
    const port = await new Promise<number>((resolve, reject) => {
      let out = ''
      child.stdout!.on('data', (chunk: Buffer) => {
        out += chunk
        const match = /http:\/\/127\.0\.0\.1:(\d+)\n/.exec(out)
        if (match) resolve(Number(match[1]))
      })
      child.once('exit', (code) => reject(new Error(`serve ended with ${code}: ${said.trim()}`)))
    })
    return new BenchProcess(child, port, () => said)
  }

  async state(): Promise<LiveState> {
    return (await ask(this.port, { path: '/api/state' })).json() as unknown as LiveState
  }

  /** Resolves when a reading has arrived: the first lines are counted while their dialect is still being found. */
  async heard(): Promise<void> {
    await until(async () => Object.keys((await this.state()).newest).length > 0)
  }

  post(path: string, body: unknown): Promise<Asked> {
    return send(this.port, path, body)
  }

  startHold(hold: string): Promise<Asked> {
    const order = { hold, operator: 'O. P.', witness: null, stateSheet: [], retests: null }
    return this.post('/api/hold/start', order)
  }

  enterStage(stage: string): Promise<Asked> {
    return this.post('/api/hold/stage', { stage })
  }

  kill(signal: NodeJS.Signals = 'SIGKILL'): Promise<void> {
    if (this.child.exitCode !== null || this.child.signalCode !== null) return Promise.resolve()
    const gone = new Promise<void>((resolve) => this.child.once('exit', () => resolve()))
    this.child.kill(signal)
    return gone
  }
}
