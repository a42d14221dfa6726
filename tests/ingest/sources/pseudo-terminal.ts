import { type ChildProcess, spawn, spawnSync } from 'node:child_process'
import { existsSync, mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

export const hasSocat = spawnSync('socat', ['-V']).status === 0

/** A pair of pseudo-terminals by socat: bytes written to `write` arrive on the line at `path`. */
export class PseudoTerminal {
  readonly #folder = mkdtempSync(join(tmpdir(), 'line-'))
  readonly path = join(this.#folder, 'logger')
  #socat: ChildProcess | null = null

  /** Plugs the logger in, at the same path each time. */
  async plug(): Promise<void> {
    const socat = spawn('socat', [`PTY,link=${this.path},raw,echo=0`, 'STDIO'], {
      stdio: ['pipe', 'ignore', 'ignore'],
    })
    socat.stdin.on('error', () => undefined)
    this.#socat = socat
    await until(() => existsSync(this.path))
  }

  write(text: string | Uint8Array): void {
    this.#socat?.stdin?.write(text)
  }

  /** Unplugs the logger: the device disappears without notice. */
  async unplug(): Promise<void> {
    const socat = this.#socat
    this.#socat = null
    if (socat === null) return
    const gone = new Promise((resolve) => socat.once('exit', resolve))
    socat.kill('SIGKILL')
    await gone
    rmSync(this.path, { force: true })
  }

  async remove(): Promise<void> {
    await this.unplug()
    rmSync(this.#folder, { recursive: true, force: true })
  }
}

/** Waits for a condition, up to the time limit of the test. */
export async function until(condition: () => boolean): Promise<void> {
  while (!condition()) await new Promise((resolve) => setTimeout(resolve, 10))
}
