import type { Channel, System } from '#analysis/model/system.ts'
import { findUnit } from '#analysis/physics/units.ts'
import type { RecordSession } from './record-session.ts'

const shownAtMost = 6

/** One line that says it runs: time, points, what is wrong, newest readings. */
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

/** An SI reading in the unit people use for it: the file's where it is one, else pascals and degrees Celsius. */
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
