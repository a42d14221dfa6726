import { readFileSync } from 'node:fs'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { checkPdf } from '#dashboard/archive/check-pdf.ts'
import { checkRecord } from '#dashboard/archive/check-record.ts'
import { readRecord } from '#dashboard/archive/read-record.ts'
import { Intake } from '#ingest/intake/intake.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'
import type { Random } from '#ingest/simulator/random.ts'
import { readSystemFile } from '#ingest/system-file/read-system-file.ts'

const recordings = new URL('../../recordings/', import.meta.url)
export const read = (name: string) => readFileSync(new URL(name, recordings))
export const floatplane = readSystemFile(read('floatplane.yaml').toString('utf8'), 'floatplane.yaml').system!

/** Something that strangers' bytes enter. Throwing is a failure, save what is stated as its refusal. */
export interface Target {
  readonly name: string
  readonly seeds: readonly Uint8Array[]
  /** Longest one input may take, [ms]; a hang is far beyond. */
  readonly mostMs: number
  run(bytes: Uint8Array, random: Random, seed: Uint8Array): void | Promise<void>
  close?(): Promise<void>
}

const spoken = [
  'p1=10.021 t1=18.40 baro=1013.2\np1=10.020 t1=18.41 baro=1013.2\n',
  'time;p1 [psi];t1 [degC]\n0;10,021;18,4\n1;10,020;18,4\n',
  '{"p1":10.021,"t1":{"wall":18.4},"n":1}\n{"p1":10.020,"t1":{"wall":18.4},"n":2}\n',
  'logger,port=a p1=10.021,t1=18.4,n=7i 1767225600000000000\nmark,kind=note text="a \\"b\\"" 1767225600000000001\n',
  '10.021\n10.020\n10.022\n',
].map((text) => Buffer.from(text.repeat(4)))

export const intakeTarget: Target = {
  name: 'line parser and dialects',
  seeds: spoken,
  mostMs: 2000,
  run(bytes, random) {
    const arrival = { wallNs: 1767225600000000000n, monotonicNs: 1n }
    const sink = { point() {}, reject() {}, comment() {}, mark() {} }
    const intake = new Intake({ port: 'fuzz', sink, joinsMidLine: random.chance(0.5) })
    intake.opened(arrival)
    const cut = Math.floor(random.uniform(0, bytes.length + 1))
    intake.bytes(bytes.subarray(0, cut), arrival)
    intake.bytes(bytes.subarray(cut), arrival)
    intake.closed(arrival)
  },
}

export const systemTarget: Target = {
  name: 'system file',
  seeds: [read('floatplane.yaml')],
  mostMs: 5000,
  run(bytes) {
    const { system, errors } = readSystemFile(Buffer.from(bytes).toString('utf8'), 'fuzz.yaml')
    if (system === null && errors.length === 0) throw new Error('refused without a word')
  },
}

/** A leaking hold, thinned to a few hundred lines so that many fit into a run. */
function thinned(name: string): Uint8Array {
  const lines = read(name).toString('utf8').split('\n')
  return Buffer.from(
    lines
      .filter((line, i) => (!line.startsWith('bench') && !line.startsWith('logger') ? true : i % 4 === 0))
      .join('\n'),
  )
}

const leaking = thinned('lines-leak.lp')

export const recordingTarget: Target = {
  name: 'recording → verdict',
  seeds: [leaking, thinned('void-gap.lp'), thinned('tank-sun.lp')],
  mostMs: 20_000,
  run(bytes, _, seed) {
    try {
      for (const { result } of analyzeRecording(readRecording(bytes, floatplane, 'fuzz.lp'), floatplane)) {
        if (result.verdict === 'pass' && seed === leaking) throw new Error('a damaged leak passes')
        if (result.verdict === 'void' && result.reasons.length === 0) throw new Error('void without a reason')
      }
    } catch (error) {
      if (!(error instanceof UnreadableFile)) throw error
    }
  },
}

export const recordTarget = (text: Uint8Array, recording: Uint8Array): Target => ({
  name: 'record → verify',
  seeds: [text],
  mostMs: 20_000,
  run(bytes) {
    const { record } = readRecord(Buffer.from(bytes).toString('utf8'))
    if (record === null || Buffer.from(bytes).equals(text)) return
    const { verdict } = checkRecord(record, (kind) => (kind === 'recording' ? recording : null), {
      programVersion: '0',
    })
    if (verdict === 'pass') throw new Error('a changed record passes')
  },
})

export const reportTarget = (pdf: Uint8Array): Target => ({
  name: 'test report → verify',
  seeds: [pdf],
  mostMs: 20_000,
  async run(bytes) {
    const { findings, records } = await checkPdf(Buffer.from(bytes), '0')
    const isBroken = [...findings, ...records.flatMap(({ findings: of }) => of)].some(
      ({ state }) => state === 'broken',
    )
    if (!isBroken && !Buffer.from(bytes).equals(pdf)) throw new Error('a changed test report holds')
  },
})
