import { closeSync, fsync, fsyncSync, openSync, writeSync } from 'node:fs'
import { join } from 'node:path'
import { formatPoint } from '#ingest/line-protocol/format-point.ts'
import { markMeasurement } from '#ingest/recording/mark-from-point.ts'
import type { NewSessionMark } from './session-marks.ts'

/** TEMPORARY inner writer until ingest/recording/recording-writer.ts is there. */
export class SessionRecording {
  readonly folder: string
  readonly #log: (line: string) => void
  #file: number | null = null
  #name: string | null = null
  #pending = ''
  #timer: NodeJS.Timeout
  trouble: string | null = null

  constructor(folder: string, log: (line: string) => void) {
    this.folder = folder
    this.#log = log
    this.#timer = setInterval(() => this.#write(), 50)
    this.#timer.unref()
  }

  get name(): string | null {
    return this.#name
  }

  line(line: string): void {
    this.#open()
    this.#pending += `${line}\n`
  }
  comment(text: string): void {
    this.line(text)
  }
  reject(reason: string, bytes: Uint8Array): void {
    this.line(`#! ${reason}: ${JSON.stringify(Buffer.from(bytes).toString('latin1'))}`)
  }
  mark({ kind, id, hold, fields }: NewSessionMark, timeNs: bigint): string {
    const tags = { kind, ...(id === undefined ? {} : { id }), ...(hold === undefined ? {} : { hold }) }
    const line = formatPoint({ measurement: markMeasurement, tags, fields, timeNs })
    this.line(line)
    return line
  }
  rotate(): string {
    this.#write()
    const name = this.#name ?? ''
    if (this.#file !== null) {
      fsyncSync(this.#file)
      closeSync(this.#file)
    }
    this.#file = null
    this.#name = null
    return name
  }
  continue(name: string): void {
    this.#name = name
    this.#file = openSync(join(this.folder, name), 'a')
  }
  async flushed(): Promise<void> {
    this.#write()
    const file = this.#file
    if (file !== null) await new Promise<void>((resolve) => fsync(file, () => resolve()))
  }
  async close(): Promise<void> {
    clearInterval(this.#timer)
    this.rotate()
  }

  #open(): void {
    if (this.#file !== null) return
    const stamp = new Date().toISOString().replaceAll(/[-:]/g, '').replace('.', '')
    this.#name = `bench-${stamp}.lp`
    this.#file = openSync(join(this.folder, this.#name), 'wx')
    this.#pending = '# stillhold recording 1\n'
  }
  #write(): void {
    if (this.#file === null || this.#pending === '') return
    writeSync(this.#file, this.#pending)
    this.#pending = ''
    void this.#log
  }
}
