import { existsSync, mkdirSync, rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { archiveIn, emptyFolder, holdDraft, tinyRecording, writeRecording } from './bench-archive.ts'

/** An archive of two records, closed. */
function sealed(): string {
  const folder = emptyFolder()
  const archive = archiveIn(folder)
  archive.seal(holdDraft(writeRecording(emptyFolder(), 'one.lp', tinyRecording)))
  archive.seal(holdDraft(writeRecording(emptyFolder(), 'two.lp', `${tinyRecording}# another\n`)))
  archive.close()
  return folder
}

describe('openArchive(damaged folder) says in one line what, where and what to do', () => {
  const refused: readonly [string, (folder: string) => void, RegExp][] = [
    [
      'a folder in the place of the index',
      (folder) => {
        rmSync(join(folder, 'index.sqlite'))
        mkdirSync(join(folder, 'index.sqlite'))
      },
      /index\.sqlite is a folder: move it away; the index is then rebuilt from the record files$/,
    ],
    [
      'a lock of noise',
      (folder) => writeFileSync(join(folder, 'lock'), Buffer.alloc(5000, 0xa7)),
      /lock, is damaged: check that no other stillhold uses the archive, then remove it; it is created again$/,
    ],
    [
      'a folder in the place of the lock',
      (folder) => {
        rmSync(join(folder, 'lock'))
        mkdirSync(join(folder, 'lock'))
      },
      /lock, is damaged: check that no other stillhold uses the archive, then remove it; it is created again$/,
    ],
    [
      'a file in the place of the records',
      (folder) => {
        rmSync(join(folder, 'records'), { recursive: true })
        writeFileSync(join(folder, 'records'), 'x')
      },
      /cannot make the folder .*records: a file has the name of this folder; move it away$/,
    ],
    [
      'an empty signing key',
      (folder) => writeFileSync(join(folder, 'signing-key.pem'), ''),
      /signing-key\.pem: it contains no private key; restore it from a backup$/,
    ],
  ]
  for (const [name, damage, line] of refused) {
    it(`openArchive(folder) with ${name}`, () => {
      const folder = sealed()
      damage(folder)
      expect(() => archiveIn(folder)).toThrow(
        expect.objectContaining({
          code: name === 'an empty signing key' ? 'key-unreadable' : 'disk',
          message: expect.stringMatching(line),
        }),
      )
    })
  }

  it('openArchive(folder) tells recordings that are gone, and what is left of the records', () => {
    const folder = sealed()
    rmSync(join(folder, 'recordings'), { recursive: true })
    const archive = archiveIn(folder)
    expect(archive.notices).toEqual([
      expect.stringMatching(
        /^0001-left-feed-10psi \(and of 1 more\): its recording is missing from .*recordings; restore it from a backup$/,
      ),
    ])
    expect(archive.list()).toHaveLength(2)
    expect(existsSync(archive.recordingPath('1')!)).toBe(false)
  })

  it('openArchive(folder) has nothing to tell of a whole one', () => {
    expect(archiveIn(sealed()).notices).toEqual([])
  })
})
