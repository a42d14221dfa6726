import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { renamePatiently } from '#dashboard/archive/write-durably.ts'

describe('renamePatiently', () => {
  let folder: string
  beforeEach(() => {
    folder = mkdtempSync(join(tmpdir(), 'rename-'))
  })
  afterEach(() => rmSync(folder, { recursive: true }))

  it.each([true, false])(
    'renamePatiently(from, to, %s) takes the place of what has the name',
    (isPatient) => {
      const [from, to] = [join(folder, 'new'), join(folder, 'old')]
      writeFileSync(from, 'new')
      writeFileSync(to, 'old')
      renamePatiently(from, to, isPatient)
      expect(readFileSync(to, 'utf8')).toBe('new')
      expect(existsSync(from)).toBe(false)
    },
  )

  it('renamePatiently(missing, to, true) throws at once: patience is for a file that is held', () => {
    expect(() => renamePatiently(join(folder, 'none'), join(folder, 'to'), true)).toThrow(/ENOENT/)
  })
})
