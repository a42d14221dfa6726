import type { ChannelSamples, Mark, Recording } from '#analysis/model/samples.ts'
import { simulatedHoldId } from './bench-system.ts'
import type { LoggerColumns, StageTimes } from './play-hold.ts'
import { psiPa } from './units.ts'

/** First instant of every simulated recording: 2026-01-01 00:00:00 UTC, [ns]. */
const epochNs = 1767225600000000000n

function stampNs(ms: number): string {
  return String(epochNs + BigInt(ms) * 1_000_000n)
}

/** The recording as an analysis reads it, built without a detour over text. */
export function holdRecording(name: string, columns: LoggerColumns, stages: StageTimes | null): Recording {
  const { timeMs, psi, degC, hPa } = columns
  const startMs = timeMs[0]
  const timeS = Float64Array.from(timeMs, (ms) => (ms - startMs) / 1000)
  const channels: ChannelSamples[] = [
    { channel: 'p-bench', timeS, reading: Float64Array.from(psi, (value) => value * psiPa) },
  ]
  if (degC) channels.push({ channel: 't-bench', timeS, reading: Float64Array.from(degC, (c) => c + 273.15) })
  if (hPa) channels.push({ channel: 'baro', timeS, reading: Float64Array.from(hPa, (value) => value * 100) })
  const marks = stages === null ? [] : stageMarks(stages, startMs)
  return { name, startNs: stampNs(startMs), channels, marks, rejectedLines: 0, missingSequence: 0 }
}

function stageMarks(stages: StageTimes, startMs: number): Mark[] {
  const named = [
    ['pump-up', stages.pumpS],
    ['settle', stages.settleS],
    ['hold', stages.holdS],
    ['vent', stages.ventS],
    ['end', stages.endS],
  ] as const
  return named.map(([name, atS]) => {
    const ms = Math.round(atS * 1000)
    return {
      timeNs: stampNs(ms),
      timeS: (ms - startMs) / 1000,
      kind: 'stage',
      id: null,
      hold: simulatedHoldId,
      fields: { name },
    }
  })
}

/** The same recording as the file that a recorder writes (contract section 2). */
export function holdRecordingText(columns: LoggerColumns, marks: readonly Mark[]): string {
  const { timeMs, psi, degC, hPa } = columns
  const lines = ['# stillhold recording 1']
  let nextMark = 0
  const marksUntil = (timeNs: string) => {
    while (nextMark < marks.length && BigInt(marks[nextMark].timeNs) <= BigInt(timeNs)) {
      const { hold, fields, timeNs: at } = marks[nextMark++]
      lines.push(`mark,kind=stage,hold=${hold} name="${fields.name}" ${at}`)
    }
  }
  for (let i = 0; i < timeMs.length; i++) {
    const timeNs = stampNs(timeMs[i])
    marksUntil(timeNs)
    const fields = [`p1=${psi[i]}`]
    if (degC) fields.push(`t1=${degC[i]}`)
    if (hPa) fields.push(`baro=${hPa[i]}`)
    lines.push(`logger ${fields.join(',')} ${timeNs}`)
  }
  if (marks.length > 0) marksUntil(marks[marks.length - 1].timeNs)
  return `${lines.join('\n')}\n`
}
