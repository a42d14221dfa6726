import { request as httpRequest, type IncomingHttpHeaders } from 'node:http'

export interface Asked {
  readonly status: number
  readonly headers: IncomingHttpHeaders
  readonly text: string
  readonly json: () => Record<string, unknown>
}

export interface Question {
  readonly method?: string
  readonly path?: string
  readonly headers?: Readonly<Record<string, string>>
  readonly body?: string
  /** Address to connect to, whatever the Host header says. */
  readonly address?: string
}

/** A request with any headers, also those that fetch does not let one set, such as Host and Origin. */
export function ask(port: number, question: Question = {}): Promise<Asked> {
  const { method = 'GET', path = '/', headers = {}, body, address = '127.0.0.1' } = question
  return new Promise((resolve, reject) => {
    const request = httpRequest({ host: address, port, method, path, headers, agent: false }, (response) => {
      const chunks: Buffer[] = []
      response.on('data', (chunk: Buffer) => chunks.push(chunk))
      response.on('end', () => {
        const text = Buffer.concat(chunks).toString('utf8')
        resolve({
          status: response.statusCode ?? 0,
          headers: response.headers,
          text,
          json: () => JSON.parse(text),
        })
      })
      response.on('error', reject)
    })
    request.on('error', reject)
    request.end(body)
  })
}

/** A change as the page sends it. */
export function send(port: number, path: string, body: unknown, question: Question = {}): Promise<Asked> {
  return ask(port, {
    method: 'POST',
    path,
    body: JSON.stringify(body),
    ...question,
    headers: { 'content-type': 'application/json', ...question.headers },
  })
}
