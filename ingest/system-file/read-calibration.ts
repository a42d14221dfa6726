import type { Calibration } from '#analysis/model/system.ts'
import type { MapView } from './file-view.ts'
import { type Expected, quantityOf } from './read-quantity.ts'

/** `{ date, due, points: [[true, read], …] }`; the pairs come back ascending by what was read. */
export function readCalibration(channel: MapView, expected: Expected): Calibration | null {
  const { file } = channel
  const node = channel.node('calibration')
  if (node === null) return null
  const view = file.open(node, `${channel.what}: calibration`, ['date', 'due', 'points'])
  if (view === null) return null
  const date = isoDate(view, 'date', true)
  const due = isoDate(view, 'due', false)
  if (date !== null && due !== null && due < date)
    view.error('due', `is before the calibration itself (${date})`)
  const points = readPoints(view, expected)
  return date === null || points.length === 0 ? null : { date, due, points }
}

function readPoints(view: MapView, expected: Expected): (readonly [trueSi: number, readSi: number])[] {
  const { file } = view
  const what = `${view.what}: points`
  const node = view.required('points')
  const pairs = file.items(node, what)
  if (node !== null && pairs.length === 0) view.error('points', 'has no [true, read] pair')
  const points: [trueSi: number, readSi: number][] = []
  for (const pair of pairs) {
    const ends = file.items(pair, `${what}: each point is a pair [true, read]`)
    const [trueSi, readSi] = ends.map((end) => {
      const text = file.textOf(end) ?? ''
      return quantityOf(text, expected, (wrong) => file.error(end, `${what}: ${wrong}`))?.value ?? null
    })
    if (ends.length !== 2) file.error(pair, `${what}: each point is a pair [true, read]`)
    else if (trueSi !== null && readSi !== null) points.push([trueSi, readSi])
  }
  points.sort((a, b) => a[1] - b[1])
  for (let i = 1; i < points.length; i++) {
    if (points[i][1] === points[i - 1][1]) view.error('points', 'two points have the same reading')
    else if (points[i][0] <= points[i - 1][0]) {
      view.error('points', 'the true value does not rise with the reading; each pair is [true, read]')
    }
  }
  return points
}

function isoDate(view: MapView, key: string, required: boolean): string | null {
  const text = required ? view.requiredText(key) : view.text(key)
  if (text === null) return null
  const time = /^\d{4}-\d\d-\d\d$/.test(text) ? Date.parse(`${text}T00:00:00Z`) : Number.NaN
  // Date.parse takes the 31st of any month; a round trip does not.
  if (Number.isNaN(time) || new Date(time).toISOString().slice(0, 10) !== text) {
    view.error(key, `"${text}" is no date; write it like 2026-03-02`)
    return null
  }
  return text
}
