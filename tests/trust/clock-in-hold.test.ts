import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { RecordSession } from '#dashboard/cli/record-session.ts'
import { readRecordingFile } from '#ingest/recording/read-recording.ts'
import { seededRandom } from '#ingest/simulator/random.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { emptyFolder } from '#tests/dashboard/archive/bench-archive.ts'
import { FedPort } from './fed-port.ts'

const system = systemFromFile(
  `stillhold: 1
name: one line
channels:
  - { id: p, measures: gauge-pressure, section: line, from: { measurement: logger, field: p }, unit: kPa, range: 0 kPa to 200 kPa }
  - { id: t, measures: temperature, section: line, from: { measurement: logger, field: t }, unit: degC }
sections:
  - { id: line, medium: air, volume: 0.35 L ± 10 %, max-pressure: 1.5 bar }
holds:
  - { id: h, sections: [line], pressure: 70 kPa, settle: 2 min, hold: 10 min, allow: { drop: 0.7 kPa } }
`,
  'one line',
)

/** When each stage of the hold begins and it ends, [s] from the first line. */
const stagesS = { 'pump-up': 30, settle: 60, hold: 180, vent: 780, end: 800 } as const

/**
 * A tight hold from a logger that sends no time: every time in its recording is of this computer's clocks, which `disturb`
 * sets while it runs. Bytes go the way of `record`, and the verdict comes from the file.
 */
function hold(disturb: (port: FedPort, atS: number) => void) {
  const port = new FedPort()
  const path = join(emptyFolder(), 'hold.lp')
  const session = new RecordSession({
    out: path,
    system,
    say: () => {},
    stop: () => {},
    clock: () => port.arrival(),
  })
  void port.open(session.listen({ port }))
  const random = seededRandom(3)
  const due = Object.entries(stagesS)
  for (let tick = 0; tick < 8100; tick++) {
    const atS = tick / 10
    port.nowS = atS - port.sleptS
    disturb(port, atS)
    while (due.length > 0 && due[0][1] <= atS)
      session.mark({ kind: 'stage', hold: 'h', fields: { name: due.shift()![0] } }, session.clock.nowNs()!)
    if (port.isAsleep) continue
    const kPa = pressureKPa(atS) + 0.004 * random.normal()
    port.say(`p=${kPa.toFixed(4)} t=${(20 + 0.005 * random.normal()).toFixed(4)}\n`)
  }
  session.recording.close()
  const read = readRecordingFile(path, system)
  const [analysis] = analyzeRecording(read, system, { hold: 'h' })
  const jumpsS = read.marks
    .filter(({ kind, fields }) => kind === 'clock' && 'jump_s' in fields)
    .map(({ fields }) => Math.round(Number(fields.jump_s) * 10) / 10)
  const codes = analysis.result.reasons.map(({ code }) => code)
  return { verdict: analysis.result.verdict, codes, jumpsS, text: readFileSync(path, 'utf8') }
}

/** Pumped up in half a minute; the warmth of it is gone soon after. */
function pressureKPa(atS: number): number {
  const { 'pump-up': pumpS, settle: settleS, vent: ventS } = stagesS
  if (atS < pumpS) return 0
  if (atS < settleS) return (73 * (atS - pumpS)) / (settleS - pumpS)
  if (atS > ventS) return 70 * Math.exp((ventS - atS) / 2)
  return 70 + 3 * Math.exp((settleS - atS) / 20)
}

const at = (timeS: number, act: (port: FedPort) => void) => {
  let isDone = false
  return (port: FedPort, atS: number) => {
    if (!isDone && atS >= timeS) act(port)
    isDone ||= atS >= timeS
  }
}

describe('a clock that is set while a hold runs', () => {
  it('a hold whose clocks are left alone passes', () => {
    expect(hold(() => {})).toMatchObject({ verdict: 'pass', jumpsS: [] })
  })

  const set = (seconds: number) => at(400, (port) => (port.wallSetS += seconds))
  for (const seconds of [7, -7, 0.8, -0.8, 3600, -3600]) {
    it(`set by ${seconds} s in the hold: the jump is marked, and the hold is void`, () => {
      const found = hold(set(seconds))
      expect(found.jumpsS).toEqual([seconds])
      expect(found.verdict).toBe('void')
      expect(found.codes).toContain('clock-jumped')
    })
  }

  it('set by 7 s before the pump-up: marked, and the hold stands', () => {
    expect(hold(at(10, (port) => (port.wallSetS += 7)))).toMatchObject({ verdict: 'pass', jumpsS: [7] })
  })

  it('asleep for 90 s in the hold, which the monotonic clock does not see: marked as a jump, and void', () => {
    const found = hold((port, atS) => {
      port.isAsleep = atS >= 400 && atS < 490
      if (atS === 490) port.sleep(90)
    })
    expect(found.jumpsS).toEqual([90])
    expect(found.verdict).toBe('void')
    expect(found.codes).toContain('clock-jumped')
  })

  it('slewed by 500 ppm, as time servers do, and set by less than half a second: no jump, and the hold stands', () => {
    const found = hold((port, atS) => {
      port.wallSetS = 500e-6 * atS + (atS > 400 ? 0.3 : 0)
    })
    expect(found).toMatchObject({ verdict: 'pass', jumpsS: [] })
  })
})
