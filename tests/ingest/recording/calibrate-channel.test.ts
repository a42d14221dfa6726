import { readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import { calibrateChannel } from '#ingest/recording/calibrate-channel.ts'
import { readSystemFile } from '#ingest/system-file/read-system-file.ts'

const file = readFileSync('recordings/floatplane.yaml', 'utf8')
const psi = 6894.757293
const calibration = {
  channel: 'p-lines',
  date: '2026-11-25',
  due: null,
  points: [
    ['0 psi', '0.02 psi'],
    ['30 psi', '29.95 psi'],
  ],
} as const
const channelOf = (text: string, id: string) => {
  const { system, errors } = readSystemFile(text, 'x.yaml')
  expect(errors).toEqual([])
  return system!.channels.find((one) => one.id === id)!
}

describe('calibrateChannel', () => {
  test('calibrateChannel() writes points that the file’s reader gives back in pascals', () => {
    const text = calibrateChannel(file, calibration)!
    const { points, date } = channelOf(text, 'p-lines').calibration!
    expect(date).toBe('2026-11-25')
    expect(points[0][1]).toBeCloseTo(0.02 * psi, 6)
    expect(points[1]).toEqual([expect.closeTo(30 * psi, 3), expect.closeTo(29.95 * psi, 3)])
  })

  test('calibrateChannel() changes one line and no other character', () => {
    const once = calibrateChannel(file, calibration)!
    const lines = new Set(file.split('\n'))
    expect(once.split('\n').filter((line) => !lines.has(line))).toHaveLength(1)
    const again = calibrateChannel(once, { ...calibration, due: '2027-11-25', date: '2026-11-26' })!
    expect(again.split('\n').length).toBe(once.split('\n').length)
    expect(channelOf(again, 'p-lines').calibration).toMatchObject({ date: '2026-11-26', due: '2027-11-25' })
  })

  for (const [what, entry] of [
    [
      'a flow entry',
      '  - { id: p, measures: barometric-pressure, from: { measurement: m, field: b }, unit: hPa } # by hand\n',
    ],
    [
      'a block entry with a comment behind its last key',
      '  - id: p # first\n    measures: barometric-pressure\n    from:\n      measurement: m\n      field: b # wired blue\n    unit: hPa # as sent\n    # a note below\n',
    ],
    [
      'Windows line ends',
      '  - id: p\r\n    measures: barometric-pressure\r\n    from: { measurement: m, field: b }\r\n    unit: hPa\r\n',
    ],
    [
      'an old calibration over several lines',
      '  - id: p\n    measures: barometric-pressure\n    calibration:\n      date: 2020-01-01\n      points:\n        - [1000 hPa, 1001 hPa] # old\n    from: { measurement: m, field: b } # kept\n    unit: hPa\n',
    ],
    [
      'the last line of the file without its end',
      '  - id: p\n    measures: barometric-pressure\n    from: { measurement: m, field: b }\n    unit: hPa',
    ],
  ] as const) {
    test(`calibrateChannel() into ${what} is read back, and the user’s comments stay`, () => {
      const head =
        'stillhold: 1\nname: bench\nsections:\n  - { id: s, medium: air, volume: 1 L }\nchannels:\n'
      const text = calibrateChannel(head + entry, {
        ...calibration,
        channel: 'p',
        points: [['1000 hPa', '1000.4 hPa']],
      })!
      expect(text.startsWith(head)).toBe(true)
      expect(channelOf(text, 'p').calibration!.points).toEqual([[100_000, expect.closeTo(100_040, 6)]])
      for (const comment of (head + entry).match(/# (?!old)[a-z ]+/g) ?? []) expect(text).toContain(comment)
    })
  }

  test('calibrateChannel() of a channel that the file does not have is null', () => {
    expect(calibrateChannel(file, { ...calibration, channel: 'p-nowhere' })).toBeNull()
  })
})
