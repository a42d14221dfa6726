import { type ClientRequest, request } from 'node:http'

export interface StreamEvent {
  readonly id: string
  readonly event: string
  readonly data: string
}

/** A page's live stream, without a browser: it collects events until it is closed. */
export class StreamReader {
  readonly events: StreamEvent[] = []
  ended = false
  #text = ''
  readonly #request: ClientRequest

  constructor(port: number, headers: Readonly<Record<string, string>> = {}) {
    this.#request = request(
      { host: '127.0.0.1', port, path: '/api/stream', headers, agent: false },
      (response) => {
        response.setEncoding('utf8')
        response.on('data', (text: string) => this.#read(text))
        response.on('close', () => {
          this.ended = true
        })
      },
    )
    this.#request.on('error', () => {
      this.ended = true
    })
    this.#request.end()
  }

  close(): void {
    this.#request.destroy()
  }

  #read(text: string): void {
    const blocks = (this.#text + text).split('\n\n')
    this.#text = blocks.pop() ?? ''
    for (const block of blocks) {
      const found: Record<string, string> = { id: '', event: '', data: '' }
      for (const line of block.split('\n')) {
        const at = line.indexOf(': ')
        found[line.slice(0, at)] = line.slice(at + 2)
      }
      this.events.push({ id: found.id, event: found.event, data: found.data })
    }
  }
}
