import type { Recording } from '#analysis/model/samples.ts'
import type { ChannelKind, System } from '#analysis/model/system.ts'

const unitSuffix: Readonly<Record<ChannelKind, string>> = {
  'gauge-pressure': '_Pa',
  'absolute-pressure': '_Pa',
  temperature: '_K',
  'barometric-pressure': '_Pa',
  'reference-pressure': '_Pa',
  'level-sender': '',
  'fuel-flow': '_m3_per_s',
}

/**
 * A recording as comma-separated text: a line for each time with a reading or a mark, a column
 * for each channel in SI units as read, empty without a reading; marks in the last column. Lines end in CRLF
 * (RFC 4180).
 */
export function* samplesCsv(recording: Recording, system: System): Generator<string> {
  const kinds = new Map(system.channels.map((channel) => [channel.id, channel.measures]))
  const channels = recording.channels.filter((column) => column.timeS.length > 0)
  const names = channels.map(
    ({ channel }) => channel + (unitSuffix[kinds.get(channel) ?? 'level-sender'] ?? ''),
  )
  yield `${['time', 'seconds', ...names, 'mark'].map(csvField).join(',')}\r\n`

  const cursors = channels.map((column) => ({ column, next: 0 }))
  const timeAt = ({ column, next }: (typeof cursors)[number]) =>
    column.timeS[next] ?? Number.POSITIVE_INFINITY
  let nextMark = 0
  const startNs = BigInt(recording.startNs)
  for (;;) {
    let timeS = recording.marks[nextMark]?.timeS ?? Number.POSITIVE_INFINITY
    for (const cursor of cursors) timeS = Math.min(timeS, timeAt(cursor))
    if (timeS === Number.POSITIVE_INFINITY) return
    const values = cursors.map((cursor) =>
      timeAt(cursor) === timeS ? number(cursor.column.reading[cursor.next++] ?? Number.NaN) : '',
    )
    const marks: string[] = []
    for (let mark = recording.marks[nextMark]; mark?.timeS === timeS; mark = recording.marks[++nextMark]) {
      const { kind, id, hold, fields } = mark
      const pairs = Object.entries(fields).map(([key, value]) => `${key}=${value}`)
      marks.push([kind, id, hold, ...pairs].filter((part) => part !== null).join(' '))
    }
    yield `${[isoTime(startNs, timeS), timeS.toFixed(6), ...values, marks.join('; ')].map(csvField).join(',')}\r\n`
  }
}

/** Twelve digits exceed any sensor's resolution and hide binary rounding. */
function number(value: number): string {
  return String(Number(value.toPrecision(12)))
}

/** UTC with microseconds; spreadsheets parse it as a time. */
function isoTime(startNs: bigint, timeS: number): string {
  const us = startNs / 1000n + BigInt(Math.round(timeS * 1e6))
  const iso = new Date(Number(us / 1000n)).toISOString()
  return `${iso.slice(0, -1)}${String(us % 1000n).padStart(3, '0')}Z`
}

/** A field of RFC 4180, quoted where needed. */
export function csvField(text: string): string {
  return /[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text
}
