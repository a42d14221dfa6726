import { describe, expect, test } from 'vitest'
import { OriginMarks, SessionMarks } from '#dashboard/server/session/session-marks.ts'

const shown = (kind: 'fault' | 'gap' | 'note' | 'clock', fields: Record<string, string | number>) => {
  const marks = new SessionMarks()
  marks.add({ timeNs: '0', timeS: 0, kind, id: null, hold: null, fields })
  return marks.shown()[0].text
}

describe('SessionMarks.shown()', () => {
  test('says in a word or two what happened, as there is no room for a sentence beside a line of a chart', () => {
    const port = '/dev/serial/by-id/usb-0123456789'
    const text = `${port} was unplugged (bad file descriptor): put the plug back in`
    expect(shown('fault', { code: 'unplugged', port, text })).toBe('logger unplugged')
    expect(shown('gap', { port, seconds: 8.613, text: `nothing came from ${port} for 8.6 s` })).toBe(
      'nothing for 8.6 s',
    )
    expect(shown('gap', { seconds: 63.2, text: 'the program was restarted' })).toBe('nothing for 63 s')
    expect(shown('fault', { code: 'some-new-code', text })).toBe('some new code')
    expect(shown('clock', { port, seconds: -3, text })).toBe('clock wrong')
    expect(shown('note', { text: 'checked: V1 is shut; doors shut' })).toBe('state sheet')
    expect(shown('note', { text: 'door opened' })).toBe('door opened')
  })
})

describe('OriginMarks', () => {
  const file = { kind: 'import', name: 'a.csv', sha256: '0f' } as const
  const mark = { kind: 'origin', id: 'p', fields: { source: 'import', name: 'a.csv', sha256: '0f' } }
  test('update() marks each source of each channel once in a recording, with what is known of it', () => {
    const marks = new OriginMarks()
    expect(marks.update('a.lp', 'p', file)).toEqual(mark)
    expect(marks.update('a.lp', 'p', file)).toBeNull()
    expect(marks.update('a.lp', null, { kind: 'import', name: null, sha256: null })).toEqual({
      ...{ kind: 'origin', fields: { source: 'import' } },
    })
    expect(marks.update('a.lp', 'p', { ...file, name: 'b.csv' })?.fields.name).toBe('b.csv')
    expect(marks.update('b.lp', 'p', file)).toEqual(mark)
  })
})
