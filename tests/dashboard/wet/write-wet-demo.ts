import { readFileSync, writeFileSync } from 'node:fs'
import { formatPoint } from '#ingest/line-protocol/format-point.ts'
import { playCalibration } from '#tests/analysis/fuel-work/played-calibration.ts'

/** Writes recordings/wet/left-sender.lp and floatplane-wet.yaml: `npx tsx tests/dashboard/wet/write-wet-demo.ts`. */
const folder = new URL('../../../recordings/', import.meta.url)

const startNs = 1_778_400_000_000_000_000n
const at = (seconds: number) => startNs + BigInt(Math.round(seconds * 1e9))
const played = playCalibration({ seed: 2026, jugFactor: 1.004, total: '75.3 L ± 0.1 L', hangs: 6 })
const [{ timeS, reading }] = played.channels
const lines = [
  ...Array.from(timeS, (seconds, i) => ({
    timeNs: at(seconds),
    text: formatPoint({ measurement: 'logger', tags: {}, fields: { r1: reading[i] }, timeNs: at(seconds) }),
  })),
  ...played.marks.map(({ timeS: seconds, fields }) => ({
    timeNs: at(seconds),
    text: formatPoint({
      measurement: 'mark',
      tags: { kind: 'fill', id: 'left-tank' },
      fields,
      timeNs: at(seconds),
    }),
  })),
].sort((a, b) => (a.timeNs < b.timeNs ? -1 : a.timeNs > b.timeNs ? 1 : 0))
writeFileSync(
  new URL('wet/left-sender.lp', folder),
  `# stillhold recording 1\n${lines.map(({ text }) => `${text}\n`).join('')}`,
)

const tank = /( {2}- id: left-tank\n(?: {4}.*\n)*)/
const dry = readFileSync(new URL('floatplane.yaml', folder), 'utf8')
const wet = dry
  .replace(
    'channels:\n',
    `channels:\n  - id: sender-left\n    measures: level-sender\n    section: left-tank\n    from: { measurement: logger, field: r1 }\n    unit: ohm\n    range: 0 ohm to 300 ohm\n    resolution: 0.1 ohm\n`,
  )
  .replace(
    tank,
    (all) =>
      `${all.replace(/ {4}(capacity|unusable): .*\n/g, '').replace(/volume: .*/, 'volume: 80 L ± 4 %')}    capacity: 77.5 L\n    unusable: 2.5 L\n`,
  )
writeFileSync(new URL('wet/floatplane-wet.yaml', folder), wet)
