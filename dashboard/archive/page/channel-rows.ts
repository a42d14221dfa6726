import type { Channel } from '#analysis/model/system.ts'
import { findUnit, toUnit } from '#analysis/physics/units.ts'
import { drawTable } from './fact-table.ts'
import { stated } from './figure-words.ts'
import type { Sheet } from './sheet.ts'

/** Instruments of a hold with their calibration, as the system file stated them. */
export function drawChannels(sheet: Sheet, channels: readonly Channel[], after: number): void {
  drawTable(
    sheet,
    {
      channel: 1.1,
      serial: 0.9,
      measures: 1.6,
      range: 1.5,
      accuracy: 1.1,
      calibrated: 1.2,
      due: 1,
      points: 0.6,
    },
    channels.map((channel) => [
      channel.id,
      channel.serial ?? '–',
      channel.measures.replaceAll('-', ' '),
      rangeWords(channel),
      channel.accuracySi === null ? 'not stated' : `± ${inOwnUnit(channel, channel.accuracySi, true)}`,
      channel.calibration?.date ?? 'not stated',
      channel.calibration?.due ?? '–',
      channel.calibration ? String(channel.calibration.points.length) : '–',
    ]),
    { right: 'points', after },
  )
}

function rangeWords(channel: Channel): string {
  if (channel.rangeSi === null) return 'not stated'
  const [low, high] = channel.rangeSi
  const unit = ownUnit(channel)
  return `${inOwnUnit(channel, low, false).replace(` ${unit}`, '')} to ${inOwnUnit(channel, high, false)}`
}

function ownUnit(channel: Channel): string {
  const isTemperature = channel.measures === 'temperature'
  const dimension = isTemperature
    ? 'temperature'
    : channel.measures.endsWith('pressure')
      ? 'pressure'
      : undefined
  return findUnit(channel.unit, dimension)?.unit.symbol ?? channel.unit
}

/** A value of the channel in its own unit where that is a pressure or temperature, else in kPa, °C or unconverted. */
function inOwnUnit(channel: Channel, si: number, isDifference: boolean): string {
  if (channel.measures === 'temperature') {
    return isDifference ? `${stated(si, 2)} K` : `${stated(si - 273.15)} °C`
  }
  if (channel.measures.endsWith('pressure')) {
    const unit = findUnit(channel.unit, 'pressure')?.unit.symbol ?? 'kPa'
    return `${stated(toUnit(si, unit, 'pressure'))} ${unit}`
  }
  return stated(si)
}
