import type { Readable } from 'node:stream'
import { arrivalNow } from './arrival-now.ts'
import type { Port } from './port.ts'

/** Lines piped into the program; ends when the writer ends. */
export function standardInput(input: Readable = process.stdin): Port {
  let end: (() => void) | null = null
  return {
    name: 'standard input',
    origin: { kind: 'import', name: 'standard input', sha256: null },
    async open(listener) {
      listener.opened(arrivalNow())
      const onData = (chunk: Uint8Array) => listener.bytes(chunk, arrivalNow())
      const onError = (error: Error) => {
        const message = `standard input cannot be read: ${error.message}`
        listener.fault({ code: 'read-failed', message }, arrivalNow())
      }
      end = () => {
        end = null
        input.off('data', onData).off('end', onEnd).off('close', onEnd).off('error', onError).pause()
        listener.closed(arrivalNow())
      }
      const onEnd = () => end?.()
      input.on('data', onData).on('end', onEnd).on('close', onEnd).on('error', onError)
    },
    async close() {
      end?.()
    },
  }
}
