import { createHash } from 'node:crypto'
import { createReadStream, readFileSync, statSync } from 'node:fs'
import { basename } from 'node:path'
import { setTimeout as sleep } from 'node:timers/promises'
import { arrivalNow } from './arrival-now.ts'
import type { Port } from './port.ts'

export interface ReplayOptions {
  readonly path: string
  /** 1 is real time, 10 ten times as fast, Infinity without delays. */
  readonly speed: number
}

const timestamp = / (-?\d{1,19})\r?\n$/
const header = /^# stillhold recording \d+$/

/**
 * Replays a recording as a live logger: each line unchanged, marks included, at the time of its own timestamp. Lines
 * without a timestamp follow the previous one.
 */
export function replayPort(options: ReplayOptions): Port {
  const { path, speed } = options
  if (!(speed > 0)) throw new RangeError(`replay speed ${speed}: must be above 0`)
  const stop = new AbortController()
  let playing: Promise<void> | null = null
  return {
    name: `replay of ${path}`,
    get origin() {
      const sha256 = createHash('sha256').update(readFileSync(path)).digest('hex')
      return { kind: 'replay' as const, name: basename(path), sha256 }
    },
    async open(listener) {
      if (statSync(path, { throwIfNoEntry: false })?.isDirectory())
        throw new Error(`${path}: is a folder; name a recording`)
      const stream = createReadStream(path, { signal: stop.signal })
      await new Promise<void>((resolve, reject) => {
        stream.once('open', () => resolve())
        stream.once('error', (error: NodeJS.ErrnoException) =>
          reject(new Error(`${path}: ${error.code === 'ENOENT' ? 'no such file' : error.message}`)),
        )
      })
      listener.opened(arrivalNow())
      playing = (async () => {
        let clock: { readonly startedMs: number; readonly firstNs: bigint } | null = null
        try {
          for await (const lines of lineBatches(stream)) {
            let due: string[] = []
            for (const line of lines) {
              if (header.test(line.trimEnd())) continue
              const isTimed = Number.isFinite(speed) && !line.startsWith('#')
              const time = isTimed ? timestamp.exec(line)?.[1] : undefined
              if (time !== undefined) {
                const timeNs = BigInt(time)
                clock ??= { startedMs: performance.now(), firstNs: timeNs }
                const dueMs = clock.startedMs + Number(timeNs - clock.firstNs) / 1e6 / speed
                const waitMs = dueMs - performance.now()
                if (waitMs >= 1) {
                  deliver(due)
                  due = []
                  await pause(waitMs, stop.signal)
                }
              }
              due.push(line)
            }
            deliver(due)
          }
        } catch (error) {
          if (!stop.signal.aborted) {
            const message = `${path}: cannot be read on: ${error instanceof Error ? error.message : error}`
            listener.fault({ code: 'read-failed', message }, arrivalNow())
          }
        }
        listener.closed(arrivalNow())
      })()

      function deliver(lines: readonly string[]): void {
        if (lines.length > 0) listener.bytes(Buffer.from(lines.join(''), 'latin1'), arrivalNow())
      }
    },
    async close() {
      stop.abort()
      await playing
    },
  }
}

/** Lines of each chunk with their line ends; only the last may lack its own. Latin-1 keeps every byte. */
async function* lineBatches(stream: AsyncIterable<Buffer>): AsyncGenerator<string[]> {
  let held = ''
  for await (const chunk of stream) {
    const lines = (held + chunk.toString('latin1')).split(/(?<=\n)/)
    held = lines.at(-1)?.endsWith('\n') === false ? (lines.pop() ?? '') : ''
    yield lines
  }
  if (held !== '') yield [held]
}

const longestTimerMs = 2 ** 31 - 1

async function pause(ms: number, signal: AbortSignal): Promise<void> {
  for (let rest = ms; rest > 0; rest -= longestTimerMs)
    await sleep(Math.min(rest, longestTimerMs), undefined, { signal })
}
