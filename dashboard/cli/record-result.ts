import type { System } from '#analysis/model/system.ts'
import { findUnit } from '#analysis/physics/units.ts'
import type { Forwarder } from '#ingest/forward/forwarder.ts'
import type { RecordSession } from './record-session.ts'

/** Summary of a finished recording: one line of JSON, or lines for people. */
export function recordResult(
  out: string,
  session: RecordSession,
  forwarder: Forwarder | null,
  json: boolean,
): string {
  const states = session.states()
  const sum = (of: (state: (typeof states)[number]) => number) =>
    states.reduce((all, each) => all + of(each), 0)
  const result = {
    stillhold: 1,
    recording: out,
    points: session.recording.points,
    marks: session.recording.marks,
    rejected: sum(({ rejected }) => rejected),
    missing: sum(({ missing }) => missing),
    resets: sum(({ resets }) => resets),
    forwarded: forwarder?.state() ?? null,
  }
  if (json) return `${JSON.stringify(result)}\n`
  const { points, marks, rejected, missing, resets, forwarded } = result
  const recorded = `${out}: ${points} points, ${marks} marks, ${rejected} rejected, ${missing} missing, ${resets} resets\n`
  if (forwarded === null) return recorded
  const { sent, waiting, lost, refused } = forwarded
  return `${recorded}forwarded: ${sent} sent, ${waiting} waiting, ${lost} lost, ${refused} refused\n`
}

const shownAtMost = 6

/** One status line: time, points, faults, newest readings. */
export function progressLine(session: RecordSession, system: System | null, elapsedS: number): string {
  const parts = [clock(elapsedS), `${session.recording.points} points`]
  for (const { rejected, missing, fault, silentS, name } of session.states()) {
    if (rejected > 0) parts.push(`${rejected} rejected`)
    if (missing > 0) parts.push(`${missing} missing`)
    if (fault !== null) parts.push(`${name}: fault`)
    else if (silentS !== null && silentS > 3) parts.push(`${name}: silent ${Math.round(silentS)} s`)
  }
  const readings = system ? channelReadings(session, system) : rawReadings(session)
  return [...parts, ...readings.slice(0, shownAtMost)].join('  ')
}

/** The newest reading of each channel in the unit of the system file. */
function channelReadings({ channels }: RecordSession, system: System): string[] {
  return Object.entries(channels.newest()).map(([id, { reading }]) => {
    const channel = system.channels.find((one) => one.id === id)
    const found = channel ? findUnit(channel.unit) : null
    if (found === null) return `${id} ${short(reading)}`
    const { times, over, offset, symbol } = found.unit
    return `${id} ${short((reading * over) / times - offset)} ${symbol}`
  })
}

/** Without a system file, the newest numbers as sent. */
function rawReadings(session: RecordSession): string[] {
  return session.fields().map(({ field, tags, raw }) => {
    const { port } = tags
    return `${port === undefined ? field : `${port}.${field}`} ${short(raw)}`
  })
}

function short(value: number): string {
  return Number(value.toPrecision(5)).toString()
}

function clock(seconds: number): string {
  const whole = Math.floor(seconds)
  const two = (number: number) => String(number).padStart(2, '0')
  return `${Math.floor(whole / 3600)}:${two(Math.floor(whole / 60) % 60)}:${two(whole % 60)}`
}
