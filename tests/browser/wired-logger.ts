import { type ChildProcess, execFileSync, spawn } from 'node:child_process'
import { createWriteStream, existsSync, rmSync, type WriteStream } from 'node:fs'
import { join } from 'node:path'
import { DemoBench } from '#ingest/sources/demo-bench.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'

export const hasSocat = (() => {
  try {
    execFileSync('socat', ['-V'], { stdio: 'ignore' })
    return process.platform !== 'win32'
  } catch {
    return false
  }
})()

/** The simulated logger at the far end of a real pseudo-terminal, whose plug can be pulled and put back. */
export class WiredLogger {
  readonly bench: DemoBench
  /** What the program opens. */
  readonly device: string
  readonly #far: string
  #cable: ChildProcess | null = null
  #line: WriteStream | null = null

  constructor(folder: string, systemText: string) {
    this.device = join(folder, 'logger')
    this.#far = join(folder, 'far-end')
    const system = systemFromFile(systemText, 'aircraft.yaml')
    this.bench = new DemoBench({ system, speed: 1, seed: 4, leaking: {} })
  }

  async start(): Promise<void> {
    await this.plugIn()
    await this.bench.open({
      opened() {},
      bytes: (chunk) => void this.#line?.write(chunk),
      closed() {},
      fault() {},
    })
  }

  async plugIn(): Promise<void> {
    const ends = [this.#far, this.device]
    this.#cable = spawn(
      'socat',
      ends.map((path) => `pty,raw,echo=0,link=${path}`),
      { stdio: 'ignore' },
    )
    while (!ends.every((path) => existsSync(path))) await new Promise((done) => setTimeout(done, 20))
    const line = createWriteStream(this.#far)
    // What is said into a pulled cable is lost, as it is at a bench.
    line.on('error', () => {})
    this.#line = line
  }

  async pullOut(): Promise<void> {
    const cable = this.#cable
    this.#line?.destroy()
    this.#line = null
    this.#cable = null
    if (cable === null) return
    const gone = new Promise((done) => cable.once('exit', done))
    cable.kill()
    await gone
    for (const path of [this.#far, this.device]) rmSync(path, { force: true })
  }

  async stop(): Promise<void> {
    await this.bench.close()
    await this.pullOut()
  }
}
