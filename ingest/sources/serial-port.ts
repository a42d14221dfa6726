import type { SerialPort } from 'serialport'
import { type Connection, type ConnectionEvents, keepOpen } from './keep-open.ts'
import type { Port } from './port.ts'

export interface SerialPortOptions {
  /** `/dev/ttyUSB0`, `COM3`. */
  readonly path: string
  readonly baudRate: number
  /** Display name; the path when absent. */
  readonly name?: string
  /** Silence after which the port is reopened, [s]. */
  readonly silenceS?: number
  readonly waitForDevice?: boolean
}

/** A logger on a serial line. Reopens after an unplug, although the old lock may linger for a while. */
export function serialPort(options: SerialPortOptions): Port {
  const { path, name = path } = options
  let { baudRate } = options
  const port = keepOpen({
    name,
    origin: { kind: 'serial', name: path, sha256: null },
    silenceS: options.silenceS,
    waitForDevice: options.waitForDevice,
    connect: (events) => connect(path, baudRate, events),
  })
  return {
    ...port,
    get baudRate() {
      return baudRate
    },
    setBaudRate(next) {
      baudRate = next
      void port.reopen()
    },
  }
}

async function connect(path: string, baudRate: number, events: ConnectionEvents): Promise<Connection> {
  const { SerialPort } = await import('serialport')
  const port = new SerialPort({ path, baudRate, autoOpen: false })
  port.on('data', (chunk: Buffer) => {
    events.heard?.(chunk)
    events.bytes(chunk)
  })
  port.on('error', (error: Error) => closed(error))
  port.on('close', (error: Error | null | undefined) => closed(error ?? null))

  let over = false
  function closed(error: Error | null): void {
    if (over) return
    over = true
    if (port.isOpen) port.close(() => undefined)
    events.ended(error === null ? null : error.message)
  }

  await new Promise<void>((resolve, reject) => {
    port.open((error) => (error === null ? resolve() : reject(new Error(openFailure(path, error)))))
  })
  return {
    async close() {
      over = true
      await shut(port)
    },
  }
}

function shut(port: SerialPort): Promise<void> {
  return new Promise((resolve) => {
    if (port.isOpen) port.close(() => resolve())
    else resolve()
  })
}

function openFailure(path: string, error: Error): string {
  const text = error.message.replace(/^Error:?\s*/, '')
  if (/no such file|file not found/i.test(text))
    return `${path}: no such port; plug the logger in and see \`stillhold record --port list\``
  if (/permission denied|access denied|EACCES/i.test(text))
    return `${path}: no permission to open it; on Linux add yourself to the group that owns it, on Windows close the program that has it open`
  if (/lock|busy|temporarily unavailable/i.test(text))
    return `${path}: another program has it open; close that program and try again`
  return `${path}: cannot be opened: ${text}`
}

export interface FoundPort {
  readonly path: string
  /** Description by the adapter; null when it has none. */
  readonly about: string | null
}

/**
 * The serial ports of this computer.
 *
 * @throws Error with one plain sentence where the system cannot list them; a known path can still be opened.
 */
export async function listSerialPorts(): Promise<readonly FoundPort[]> {
  const { SerialPort } = await import('serialport')
  try {
    const found = await SerialPort.list()
    return found.map(({ path, manufacturer, serialNumber, vendorId, productId }) => {
      const ids = vendorId === undefined ? undefined : `${vendorId}:${productId ?? '?'}`
      const about = [manufacturer, serialNumber, ids].filter((part) => part !== undefined).join(', ')
      return { path, about: about === '' ? null : about }
    })
  } catch (error) {
    const cause = error instanceof Error ? error.message : String(error)
    const hint = /udevadm/.test(cause)
      ? 'listing needs udev (`udevadm`), which is not installed; name the port, such as --port /dev/ttyUSB0'
      : `${cause}; name the port`
    throw new Error(`the serial ports cannot be listed: ${hint}`)
  }
}
