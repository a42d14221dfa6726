import { describe, expect, it } from 'vitest'
import { RateLimit, Sharing } from '#dashboard/server/http/sharing.ts'

describe('RateLimit', () => {
  it('take() allows the stated tries, then one more each time its share of the window has passed', () => {
    let nowMs = 0
    const limit = new RateLimit(5, 60_000, () => nowMs)
    expect(Array.from({ length: 6 }, () => limit.take('a'))).toEqual([true, true, true, true, true, false])
    expect(limit.take('b')).toBe(true)
    nowMs = 11_999
    expect(limit.take('a')).toBe(false)
    nowMs = 12_001
    expect(limit.take('a')).toBe(true)
    expect(limit.take('a')).toBe(false)
  })
})

describe('Sharing', () => {
  it('join() takes a code once, in any case and spacing, and gives a token with the role of the code', () => {
    const sharing = new Sharing()
    const code = sharing.code('viewer')
    const first = sharing.join(` ${code.toLowerCase().replace('-', ' ')} `, '10.0.0.2')
    expect(first).toMatchObject({ ok: true, role: 'viewer' })
    expect(first.ok && sharing.roleOfToken(first.token)).toBe('viewer')
    expect(sharing.join(code, '10.0.0.3')).toEqual({ ok: false, reason: 'wrong-code' })
    expect(sharing.code('viewer')).not.toBe(code)
  })

  it('join() announces the code that replaces a used one, so that the terminal can show it', () => {
    const sharing = new Sharing()
    const shown: string[] = []
    sharing.onNewCode = (role, code) => shown.push(`${role} ${code}`)
    sharing.join(sharing.code('operator'), '10.0.0.2')
    expect(shown).toEqual([`operator ${sharing.code('operator')}`])
  })

  it('join() refuses the sixth try of an address within a minute, even with the right code', () => {
    const sharing = new Sharing(() => 0)
    for (let tries = 0; tries < 5; tries++) {
      expect(sharing.join('AAAA-AAAA', '10.0.0.2')).toEqual({ ok: false, reason: 'wrong-code' })
    }
    expect(sharing.join(sharing.code('operator'), '10.0.0.2')).toEqual({
      ok: false,
      reason: 'too-many-tries',
    })
    expect(sharing.join(sharing.code('operator'), '10.0.0.3')).toMatchObject({ ok: true })
  })

  it('join() refuses the 31st try within a minute wherever it comes from', () => {
    const sharing = new Sharing(() => 0)
    for (let tries = 0; tries < 30; tries++) sharing.join('AAAA-AAAA', `10.0.0.${tries}`)
    expect(sharing.join(sharing.code('viewer'), '10.0.1.1')).toEqual({ ok: false, reason: 'too-many-tries' })
  })

  it('roleOfToken() knows no token it did not give', () => {
    const sharing = new Sharing()
    for (const token of ['', 'operator', sharing.code('operator')])
      expect(sharing.roleOfToken(token)).toBeNull()
  })
})
