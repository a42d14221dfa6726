import { spawn, spawnSync } from 'node:child_process'
import { mkdirSync, writeFileSync } from 'node:fs'
import { createServer, type Server } from 'node:http'
import { join } from 'node:path'

/** A time-stamp authority of our own: openssl behind a web address (RFC 3161, 3.4). */
export class Authority {
  readonly certificate: string
  /** What it answers instead of a stamp, when set. */
  forge: ((stamp: Buffer) => Buffer) | null = null
  readonly #folder: string
  #server: Server | null = null

  /** True where openssl is there. */
  static get isThere(): boolean {
    return spawnSync('openssl', ['version']).status === 0
  }

  constructor(folder: string, name = 'Test authority') {
    this.#folder = folder
    mkdirSync(folder, { recursive: true })
    const config = `[ req ]
distinguished_name = name
x509_extensions = stamp
prompt = no
[ name ]
CN = ${name}
[ stamp ]
basicConstraints = critical,CA:FALSE
keyUsage = critical,digitalSignature
extendedKeyUsage = critical,timeStamping
[ tsa ]
default_tsa = own
[ own ]
dir = ${folder}
serial = ${folder}/serial
crypto_device = builtin
signer_cert = ${folder}/tsa.pem
signer_key = ${folder}/tsa.key
signer_digest = sha256
default_policy = 1.2.3.4.1
digests = sha256
accuracy = secs:1
ordering = no
tsa_name = no
ess_cert_id_chain = no
`
    writeFileSync(join(folder, 'tsa.cnf'), config)
    writeFileSync(join(folder, 'serial'), '01')
    this.certificate = join(folder, 'tsa.pem')
    const made = spawnSync('openssl', [
      'req',
      '-x509',
      '-newkey',
      'rsa:2048',
      '-nodes',
      '-days',
      '30',
      '-config',
      join(folder, 'tsa.cnf'),
      '-keyout',
      join(folder, 'tsa.key'),
      '-out',
      this.certificate,
    ])
    if (made.status !== 0) throw new Error(String(made.stderr))
  }

  /** Resolves to its address. */
  async start(): Promise<string> {
    const server = createServer((request, response) => {
      const parts: Buffer[] = []
      request.on('data', (part) => parts.push(part))
      request.on('end', async () => {
        const stamp = await this.#stamp(Buffer.concat(parts))
        response.setHeader('content-type', 'application/timestamp-reply')
        response.end(this.forge?.(stamp) ?? stamp)
      })
    })
    this.#server = server
    await new Promise<void>((done) => server.listen(0, '127.0.0.1', done))
    return `http://127.0.0.1:${(server.address() as { port: number }).port}/`
  }

  stop(): void {
    this.#server?.close()
  }

  #stamp(query: Buffer): Promise<Buffer> {
    const path = join(this.#folder, 'query.tsq')
    writeFileSync(path, query)
    return new Promise((done, fail) => {
      const child = spawn('openssl', [
        'ts',
        '-reply',
        '-config',
        join(this.#folder, 'tsa.cnf'),
        '-queryfile',
        path,
      ])
      const out: Buffer[] = []
      let said = ''
      child.stdout.on('data', (part: Buffer) => out.push(part))
      child.stderr.on('data', (part: Buffer) => {
        said += part
      })
      child.on('close', (code) => (code === 0 ? done(Buffer.concat(out)) : fail(new Error(said))))
    })
  }
}
