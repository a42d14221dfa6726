import { join } from 'node:path'
import { expect, it } from 'vitest'
import { syncFolder } from '#ingest/recording/sync-folder.ts'

it('syncFolder(a folder that is gone) throws: a name that may not survive a power cut is no success', () => {
  expect(() => syncFolder(join(import.meta.dirname, 'gone'))).toThrow('ENOENT')
  expect(() => syncFolder(import.meta.dirname)).not.toThrow()
})
