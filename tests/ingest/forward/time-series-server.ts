import { type ChildProcess, spawn, spawnSync } from 'node:child_process'
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { type AddressInfo, createServer } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

export const hasInfluxd = spawnSync('influxd', ['version']).status === 0

/** A real server of the write protocol on loopback, in its own folder, that can be stopped and started. */
export class TimeSeriesServer {
  readonly #folder = mkdtempSync(join(tmpdir(), 'series-'))
  #process: ChildProcess | null = null
  url = ''

  async start(): Promise<void> {
    if (this.url === '') this.url = `http://127.0.0.1:${await freePort()}`
    const config = join(this.#folder, 'influxdb.conf')
    writeFileSync(config, this.#config(await freePort()))
    this.#process = spawn('influxd', ['-config', config], { stdio: 'ignore' })
    while (!(await this.#answers())) await new Promise((resolve) => setTimeout(resolve, 50))
  }

  async stop(): Promise<void> {
    const server = this.#process
    this.#process = null
    if (server === null) return
    const gone = new Promise((resolve) => server.once('exit', resolve))
    server.kill('SIGTERM')
    await gone
  }

  async remove(): Promise<void> {
    await this.stop()
    rmSync(this.#folder, { recursive: true, force: true })
  }

  /** Rows of the first series of the answer; times as text, exact to the nanosecond. */
  async query(statement: string): Promise<(string | number)[][]> {
    const address = `${this.url}/query?db=bench&q=${encodeURIComponent(statement)}`
    const response = await fetch(address, { method: 'POST' })
    const answer = (await response.json()) as { results: { series?: { values: (string | number)[][] }[] }[] }
    return answer.results[0].series?.[0].values ?? []
  }

  async count(): Promise<number> {
    return Number((await this.query('SELECT COUNT(p1) FROM logger'))[0]?.[1] ?? 0)
  }

  async #answers(): Promise<boolean> {
    try {
      return (await fetch(`${this.url}/ping`)).status === 204
    } catch {
      return false
    }
  }

  #config(rpcPort: number): string {
    const at = (name: string) => JSON.stringify(join(this.#folder, name))
    return `
reporting-disabled = true
bind-address = "127.0.0.1:${rpcPort}"
[meta]
  dir = ${at('meta')}
[data]
  dir = ${at('data')}
  wal-dir = ${at('wal')}
  query-log-enabled = false
[monitor]
  store-enabled = false
[http]
  bind-address = "${new URL(this.url).host}"
  log-enabled = false
[logging]
  level = "error"
`
  }
}

function freePort(): Promise<number> {
  return new Promise((resolve) => {
    const server = createServer().listen(0, '127.0.0.1', () => {
      const { port } = server.address() as AddressInfo
      server.close(() => resolve(port))
    })
  })
}
