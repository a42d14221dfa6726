import { appendFileSync, mkdtempSync, rmSync, statSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { builtProgram } from '#tests/built-program.ts'
import type { BenchPlan } from './bench-plan.ts'
import { runProcess } from './run-process.ts'

/** A line under pressure all day: one hold, three channels on every line. */
const systemText = `
stillhold: 1
name: a day at the bench
sections:
  - { id: left-feed, medium: air, volume: 0.35 L ± 10 %, max-pressure: 15 psi, stretch: 0 % per bar }
channels:
  - { id: p, measures: gauge-pressure, section: left-feed, from: { measurement: logger, field: p1 }, unit: psi, range: 0 psi to 30 psi }
  - { id: t, measures: temperature, section: left-feed, from: { measurement: logger, field: t1 }, unit: degC }
  - { id: baro, measures: barometric-pressure, from: { measurement: logger, field: baro }, unit: hPa }
holds:
  - { id: day, sections: [left-feed], pressure: 10 psi, settle: 10 min, hold: 23 h, allow: { drop: 2 psi } }
`

const ratePerS = 100
const startNs = 1_767_225_600_000_000_000n

export const plans: readonly BenchPlan[] = [
  async (quick) => {
    const hours = quick ? 0.5 : 24
    const folder = mkdtempSync(join(tmpdir(), 'stillhold-day-'))
    try {
      const recording = join(folder, 'day.lp')
      const system = join(folder, 'plane.yaml')
      writeFileSync(system, systemText)
      writeDay(recording, hours)
      const took = runProcess([await builtProgram(), 'analyze', recording, '--system', system], folder)
      const base = runProcess(['-e', '0'], folder)
      const points = hours * 3600 * ratePerS
      const fileMB = statSync(recording).size / 1e6
      return {
        kind: 'figures',
        name: `stillhold analyze of ${points} lines with three channels (${fileMB.toFixed(0)} MB), file to verdict`,
        figures: [
          { name: 'on the clock', value: took.seconds, unit: 's', atMost: null },
          { name: 'processor', value: took.processorMs / 1000, unit: 's', atMost: 4 },
          { name: 'memory of node -e 0', value: base.memoryMB, unit: 'MB', atMost: null },
          { name: 'memory of the columns', value: (points * 4 * 8) / 1e6, unit: 'MB', atMost: null },
          { name: 'memory, highest', value: took.memoryMB, unit: 'MB', atMost: 350 },
        ],
      }
    } finally {
      rmSync(folder, { recursive: true })
    }
  },
]

function writeDay(path: string, hours: number): void {
  const points = hours * 3600 * ratePerS
  const stage = (name: string, atS: number) =>
    `mark,kind=stage,hold=day name="${name}" ${startNs + BigInt(Math.round(atS * 1e9))}\n`
  const stages: [string, number][] = [
    ['pump-up', 0.005],
    ['settle', 20.005],
    ['hold', hours * 60 + 20.005],
    ['vent', hours * 3600 - 30.005],
    ['end', hours * 3600 - 0.005],
  ]
  writeFileSync(path, '# stillhold recording 1\n')
  let lines: string[] = []
  for (let k = 0; k < points; k++) {
    const atS = k / ratePerS
    while (stages.length > 0 && stages[0][1] <= atS) lines.push(stage(...stages.shift()!))
    const up = Math.min(1, atS / 20, (hours * 3600 - atS) / 30)
    const noise = ((k * 7919) % 1009) / 1009 - 0.5
    const p1 = up * (10 - (0.3 * atS) / 86_400) + noise / 100
    const t1 = 21 + 2 * Math.sin(atS / 13_751) + noise / 50
    const baro = 1013 + Math.sin(atS / 20_000) + noise / 20
    const timeNs = startNs + BigInt(k) * BigInt(1e9 / ratePerS)
    lines.push(`logger p1=${p1.toFixed(4)},t1=${t1.toFixed(3)},baro=${baro.toFixed(2)} ${timeNs}\n`)
    if (lines.length === 100_000) {
      appendFileSync(path, lines.join(''))
      lines = []
    }
  }
  appendFileSync(path, lines.join(''))
}
