import type { Channel, System } from '#analysis/model/system.ts'
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
    points: session.points,
    marks: session.marks,
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
  const parts = [clock(elapsedS), `${session.points} points`]
  for (const { rejected, missing, fault, silentS, name } of session.states()) {
    if (rejected > 0) parts.push(`${rejected} rejected`)
    if (missing > 0) parts.push(`${missing} missing`)
    if (fault !== null) parts.push(`${name}: fault`)
    else if (silentS !== null && silentS > 3) parts.push(`${name}: silent ${Math.round(silentS)} s`)
  }
  const readings = [...session.newest].slice(0, shownAtMost).map(([name, value]) => {
    const channel = system?.channels.find(({ id }) => id === name)
    return channel === undefined ? `${name} ${short(value)}` : `${name} ${inUnit(channel, value)}`
  })
  return [...parts, ...readings].join('  ')
}

/** An SI reading in a readable unit: the system file's, else pascals and degrees Celsius. */
function inUnit({ unit }: Channel, si: number): string {
  const found = findUnit(unit)
  if (found === null) return short(si)
  const { times, over, offset, symbol } = found.unit
  return `${short((si * over) / times - offset)} ${symbol}`
}

function short(value: number): string {
  return Number(value.toPrecision(5)).toString()
}

function clock(seconds: number): string {
  const whole = Math.floor(seconds)
  const two = (number: number) => String(number).padStart(2, '0')
  return `${Math.floor(whole / 3600)}:${two(Math.floor(whole / 60) % 60)}:${two(whole % 60)}`
}
