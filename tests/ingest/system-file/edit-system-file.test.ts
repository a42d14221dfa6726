import { readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import { editSystemFile, type SystemEdit } from '#ingest/system-file/edit-system-file.ts'
import { firstSystemFile, layouts } from '#ingest/system-file/layouts.ts'
import { readSystemFile } from '#ingest/system-file/read-system-file.ts'

const file = readFileSync('recordings/floatplane.yaml', 'utf8')
const psi = 6894.757293
const read = (text: string) => {
  const { system, errors } = readSystemFile(text, 'x.yaml')
  expect(errors).toEqual([])
  return system!
}
const channelOf = (text: string, id: string) => read(text).channels.find((one) => one.id === id)!
const calibrated = (text: string, id: string, points: [string, string][], date = '2026-11-25') =>
  editSystemFile(text, { list: 'channels', id, keys: { calibration: { date, points } } })!
const twoPoints: [string, string][] = [
  ['0 psi', '0.02 psi'],
  ['30 psi', '29.95 psi'],
]
const newLines = (before: string, after: string) => {
  const known = new Set(before.split('\n'))
  return after.split('\n').filter((line) => !known.has(line))
}
/** Every first file, and one edited by hand. */
const files = [
  ['floatplane.yaml', file] as const,
  ...layouts.map((layout) => [layout.id, firstSystemFile(layout, 'a', 'each')] as const),
]

describe('editSystemFile(text, edit)', () => {
  test('editSystemFile() writes points that the file’s reader returns in pascals', () => {
    const { points, date } = channelOf(calibrated(file, 'p-lines', twoPoints), 'p-lines').calibration!
    expect(date).toBe('2026-11-25')
    expect(points[0][1]).toBeCloseTo(0.02 * psi, 6)
    expect(points[1]).toEqual([expect.closeTo(30 * psi, 3), expect.closeTo(29.95 * psi, 3)])
  })

  test('editSystemFile() changes one line and no other character', () => {
    const once = calibrated(file, 'p-lines', twoPoints)
    expect(newLines(file, once)).toHaveLength(1)
    const again = calibrated(once, 'p-lines', twoPoints, '2026-11-26')
    expect(again.split('\n').length).toBe(once.split('\n').length)
    expect(channelOf(again, 'p-lines').calibration).toMatchObject({ date: '2026-11-26' })
  })

  for (const [what, entry] of [
    [
      'a flow entry',
      '  - { id: p, measures: barometric-pressure, from: { measurement: m, field: b }, unit: hPa } # by hand\n',
    ],
    [
      'a block entry with a comment after its last key',
      '  - id: p # first\n    measures: barometric-pressure\n    from:\n      measurement: m\n      field: b # wired blue\n    unit: hPa # as sent\n    # a note below\n',
    ],
    [
      'Windows line ends',
      '  - id: p\r\n    measures: barometric-pressure\r\n    from: { measurement: m, field: b }\r\n    unit: hPa\r\n',
    ],
    [
      'an old calibration on several lines',
      '  - id: p\n    measures: barometric-pressure\n    calibration:\n      date: 2020-01-01\n      points:\n        - [1000 hPa, 1001 hPa] # old\n    from: { measurement: m, field: b } # kept\n    unit: hPa\n',
    ],
    [
      'a last line without a line end',
      '  - id: p\n    measures: barometric-pressure\n    from: { measurement: m, field: b }\n    unit: hPa',
    ],
  ] as const) {
    const head = 'stillhold: 1\nname: bench\nsections:\n  - { id: s, medium: air, volume: 1 L }\nchannels:\n'
    const comments = (head + entry).match(/# (?!old)[a-z ]+/g) ?? []

    test(`editSystemFile() into ${what} is read back, and the user’s comments stay`, () => {
      const text = calibrated(head + entry, 'p', [['1000 hPa', '1000.4 hPa']])
      expect(text.startsWith(head)).toBe(true)
      expect(channelOf(text, 'p').calibration!.points).toEqual([[100_000, expect.closeTo(100_040, 6)]])
      for (const comment of comments) expect(text).toContain(comment)
    })

    test(`editSystemFile() beside ${what} adds an entry in its style and removes it to the byte`, () => {
      const keys = {
        id: 'q',
        measures: 'temperature',
        section: 's',
        from: { measurement: 'm', field: 't' },
        unit: 'degC',
      }
      const more = editSystemFile(head + entry, { list: 'channels', id: null, keys })!
      expect(read(more).channels.map(({ id }) => id)).toEqual(['p', 'q'])
      for (const comment of comments) expect(more).toContain(comment)
      const less = editSystemFile(more, { list: 'channels', id: 'q', keys: null })!
      expect(less.replace(/\r?\n$/, '')).toBe((head + entry).replace(/\r?\n$/, ''))
    })
  }

  test.each(files)('editSystemFile() of %s changes a section’s name at every reference', (_, text) => {
    const { sections } = read(text)
    for (const { id } of sections) {
      const to = `${id}-new`
      const renamed = editSystemFile(text, { list: 'sections', id, keys: { id: to } })!
      const expected = JSON.parse(JSON.stringify(read(text)), (key, value) =>
        key !== 'kind' && typeof value === 'string'
          ? value.replace(new RegExp(`(^|@)${id}$`), `$1${to}`)
          : value,
      )
      expect(read(renamed)).toEqual(expected)
    }
  })

  test.each(files)(
    'editSystemFile() of %s removes parts with their dependents; the rest is read',
    (_, text) => {
      const system = read(text)
      for (const list of ['sections', 'valves', 'fittings', 'holds'] as const)
        for (const { id } of system[list].slice(0, 2)) {
          const less = editSystemFile(text, { list, id, keys: null })!
          const left = read(less)
          expect(left[list].map((one) => one.id)).toEqual(
            system[list].map((one) => one.id).filter((one) => one !== id),
          )
          expect(newLines(text, less).filter((line) => line.includes('#'))).toEqual([])
        }
    },
  )

  test('editSystemFile() removes a section with its fittings and holds, and connects its valves to the outside', () => {
    const text = firstSystemFile(layouts[4], 'a', 'dial')
    const left = read(editSystemFile(text, { list: 'sections', id: 'nose-tank', keys: null })!)
    expect(left.fittings.every(({ section }) => section === 'firewall-forward')).toBe(true)
    expect(left.holds.map(({ id, shut }) => [id, shut])).toEqual([['firewall-forward-hold', ['V1']]])
    expect(left.valves.map(({ id, between }) => [id, between])).toEqual([['V1', ['firewall-forward']]])
    expect(left.channels.map(({ id }) => id)).toEqual([
      'gauge@firewall-forward',
      'thermometer@firewall-forward',
    ])
  })

  test('editSystemFile() writes into lists that are missing, empty and on one line', () => {
    const head = 'stillhold: 1\nname: a\nsections: [{ id: s, medium: air, volume: 1 L }]\n'
    const edit: SystemEdit = { list: 'fittings', id: null, keys: { id: 'F1', section: 's', size: -6 } }
    for (const text of [head, `${head}fittings:\n`, `${head}fittings: []`, `${head}fittings:\n# none yet\n`])
      expect(read(editSystemFile(text, edit)!).fittings).toMatchObject([{ id: 'F1', size: '-6' }])
    const two = editSystemFile(head, {
      list: 'sections',
      id: null,
      keys: { id: 'tank: left', medium: 'air', volume: '60 L ± 5 %' },
    })!
    expect(read(two).sections.map(({ id }) => id)).toEqual(['s', 'tank: left'])
  })

  test('editSystemFile() renames the aircraft, and removes a key with its line', () => {
    const named = editSystemFile(file, { list: null, id: null, keys: { name: 'ours: the blue one' } })!
    expect(newLines(file, named)).toEqual(['name: "ours: the blue one"'])
    const bare = editSystemFile(file, { list: 'channels', id: 'p-left', keys: { accuracy: null } })!
    expect(channelOf(bare, 'p-left').accuracySi).toBeNull()
    expect(newLines(file, bare)).toEqual([])
  })

  test('editSystemFile() of an unknown entry is null', () => {
    expect(editSystemFile(file, { list: 'channels', id: 'p-nowhere', keys: {} })).toBeNull()
    expect(editSystemFile(file, { list: 'sections', id: 'nowhere', keys: null })).toBeNull()
  })
})
