import { promisify } from 'node:util'
import { gunzip } from 'node:zlib'
import { IntakeClock } from '#ingest/intake/clock.ts'
import { sequenceNumber } from '#ingest/intake/dialect.ts'
import type { IntakeState } from '#ingest/intake/intake.ts'
import { SequenceSpan } from '#ingest/intake/sequence.ts'
import type { IntakeSink } from '#ingest/intake/sink.ts'
import { formatPoint } from '#ingest/line-protocol/format-point.ts'
import { type Precision, type Refusal, seriesOf } from '#ingest/line-protocol/point.ts'
import { PointReader } from '#ingest/line-protocol/point-reader.ts'
import { arrivalNow } from './arrival-now.ts'

export interface HttpWriteOptions {
  readonly sink: IntakeSink
  /** Display name. */
  readonly name?: string
  /**
   * Runs `take`, which passes on the points of one request, as a transaction: all points are durable, or it throws
   * and keeps none, and the client sends them again. Absent: the points are only passed on.
   */
  readonly keep?: (take: () => void) => void
}

/** A client's batch has some thousand lines. */
export const largestBodyBytes = 32_000_000
/** Protocol version; clients read it from every response. */
const versionHeaders = { 'x-influxdb-version': '1.8.0', 'x-influxdb-build': 'stillhold' }
const unzip = promisify(gunzip)
const precisions: Readonly<Record<string, Precision>> = {
  n: 'ns',
  ns: 'ns',
  u: 'us',
  µ: 'us',
  us: 'us',
  ms: 'ms',
  s: 's',
  nanosecond: 'ns',
  microsecond: 'us',
  millisecond: 'ms',
  second: 's',
}
/** Version 3 of the protocol guesses the unit of a time from its size. */
const guessed: readonly (readonly [below: bigint, ns: bigint])[] = [
  [5_000_000_000n, 1_000_000_000n],
  [5_000_000_000_000n, 1_000_000n],
  [5_000_000_000_000_000n, 1_000n],
]

/** Answers the write protocol of existing clients. A function from request to response, without a server. */
export class HttpWrite {
  readonly #options: HttpWriteOptions
  readonly #clock = new IntakeClock()
  /** Clients send batches in parallel: lines come in any order. */
  readonly #sequence = new SequenceSpan()
  #lines = 0
  #rejected = 0
  #lastNs: bigint | null = null

  constructor(options: HttpWriteOptions) {
    this.#options = options
  }

  async respond(request: Request): Promise<Response> {
    const { pathname } = new URL(request.url)
    const isRead = request.method === 'GET' || request.method === 'HEAD'
    switch (pathname) {
      case '/ping':
        return new Response(null, { status: 204, headers: versionHeaders })
      case '/health':
      case '/ready':
        return json(200, { name: 'stillhold', status: isRead ? 'pass' : 'fail', message: 'ready for writes' })
      case '/query':
        return json(200, await answerQuery(request))
      case '/write':
      case '/api/v2/write':
      case '/api/v3/write_lp':
        if (request.method !== 'POST')
          return fault(405, 'method not allowed', 'points are written with POST', { allow: 'POST' })
        return this.#write(request, pathname === '/api/v3/write_lp' ? 'auto' : 'ns')
    }
    return fault(
      404,
      'not found',
      `nothing is answered at ${pathname}; points go to /write, /api/v2/write or /api/v3/write_lp`,
    )
  }

  state(monotonicNs: bigint): IntakeState {
    return {
      name: this.#options.name ?? 'http',
      open: true,
      dialect: 'line-protocol',
      confirmed: true,
      quantities: [],
      lines: this.#lines,
      rejected: this.#rejected,
      missing: this.#sequence.missing,
      resets: 0,
      silentS: this.#lastNs === null ? null : Number(monotonicNs - this.#lastNs) / 1e9,
      fault: null,
    }
  }

  async #write(request: Request, usual: 'auto' | 'ns'): Promise<Response> {
    const asked = new URL(request.url).searchParams.get('precision') ?? usual
    const isGuessed = asked === 'auto' && usual === 'auto'
    const precision = isGuessed ? 'ns' : precisions[asked]
    if (precision === undefined) return fault(400, 'invalid', `precision ${asked}: must be ns, us, ms or s`)
    const body = await readBody(request)
    if (body instanceof Response) return body
    let first: Refusal | null = null
    let refused = 0
    let taken = 0
    const arrival = arrivalNow()
    this.#lastNs = arrival.monotonicNs
    const { sink, keep = (take) => take() } = this.#options
    const numbers: (readonly [series: string, number: number])[] = []
    const reader = new PointReader(
      {
        point: (point) => {
          taken++
          const number = sequenceNumber(point)
          if (number !== null) numbers.push([seriesOf(point), number])
          const timeNs = isGuessed ? inNanoseconds(point.timeNs) : point.timeNs
          const stamped = { ...point, timeNs: this.#clock.stamp(timeNs, arrival) }
          sink.point(stamped, formatPoint(stamped), arrival)
        },
        refused: (refusal, bytes) => {
          first ??= refusal
          refused++
          sink.reject(`${refusal.cause}, column ${refusal.column}`, bytes, arrival)
        },
        comment: (text) => sink.comment(text, arrival),
      },
      precision,
    )
    try {
      keep(() => {
        reader.push(body)
        reader.end()
      })
    } catch (error) {
      const message = error instanceof Error ? error.message : String(error)
      return fault(503, 'unavailable', `the points are not kept: ${message}`, { 'retry-after': '5' })
    }
    this.#lines += taken + refused
    this.#rejected += refused
    for (const [series, number] of numbers) this.#sequence.update(series, number)
    if (first === null) return new Response(null, { status: 204, headers: versionHeaders })
    const { line, column, cause } = first as Refusal
    const lines = refused === 1 ? '1 line' : `${refused} lines`
    const message = `unable to parse line ${line}, column ${column}: ${cause}; ${lines} refused, ${taken} taken`
    return fault(400, 'invalid', message)
  }
}

function inNanoseconds(time: string | null): string | null {
  if (time === null) return null
  const value = BigInt(time)
  const size = value < 0n ? -value : value
  return String(value * (guessed.find(([below]) => size < below)?.[1] ?? 1n))
}

async function readBody(request: Request): Promise<Uint8Array | Response> {
  const encoding = (request.headers.get('content-encoding') ?? 'identity').toLowerCase()
  if (encoding !== 'identity' && encoding !== 'gzip')
    return fault(415, 'invalid', `content-encoding ${encoding}: must be gzip or none`)
  const tooLarge = () =>
    fault(413, 'request too large', `a request may carry ${largestBodyBytes / 1e6} MB; send smaller batches`)
  const chunks: Uint8Array[] = []
  let bytes = 0
  try {
    for await (const chunk of request.body ?? []) {
      bytes += chunk.length
      if (bytes > largestBodyBytes) return tooLarge()
      chunks.push(chunk)
    }
  } catch {
    return fault(400, 'invalid', 'the body ended before its end: nothing of it was taken')
  }
  const body = Buffer.concat(chunks)
  if (encoding === 'identity') return body
  try {
    return await unzip(body, { maxOutputLength: largestBodyBytes })
  } catch (error) {
    if (error instanceof RangeError) return tooLarge()
    return fault(400, 'invalid', 'the body is not gzip, or damaged')
  }
}

/** The text is in `error` and in `message`: the two generations of clients read different keys. */
function fault(
  status: number,
  code: string,
  message: string,
  headers: Record<string, string> = {},
): Response {
  return json(status, { code, message, error: message }, { ...headers, 'x-influxdb-error': message })
}

function json(status: number, body: unknown, headers: Record<string, string> = {}): Response {
  return new Response(`${JSON.stringify(body)}\n`, {
    status,
    headers: { 'content-type': 'application/json; charset=utf-8', ...versionHeaders, ...headers },
  })
}

/** Database shown to clients that list them; writes to any database go to the same recording. */
const database = 'stillhold'

/** Answers only the statements that clients of the old write protocol send before they write. */
async function answerQuery(request: Request): Promise<unknown> {
  const asked = new URL(request.url).searchParams.get('q') ?? (await formQuery(request))
  const statements = asked
    .split(';')
    .map((text) => text.trim())
    .filter((text) => text !== '')
  return { results: statements.map((text, statement_id) => ({ statement_id, ...answer(text) })) }
}

async function formQuery(request: Request): Promise<string> {
  if (request.method !== 'POST') return ''
  try {
    return new URLSearchParams((await request.text()).slice(0, 65_536)).get('q') ?? ''
  } catch {
    return ''
  }
}

function answer(statement: string): object {
  if (/^(?:create|drop|alter)\s+(?:database|retention\s+policy)\b/i.test(statement)) return {}
  if (/^show\s+databases\b/i.test(statement))
    return { series: [{ name: 'databases', columns: ['name'], values: [[database]] }] }
  return { error: 'this endpoint takes writes only; analyze the recording instead' }
}
