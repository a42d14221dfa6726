import { join, resolve } from 'node:path'
import { describe, expect, it } from 'vitest'
import { dataFolder } from '#dashboard/cli/options.ts'

describe('dataFolder', () => {
  it('dataFolder(given) takes what is given, then STILLHOLD_DATA, then the platform’s usual place', () => {
    const env = { STILLHOLD_DATA: 'from-env' }
    expect(dataFolder('given', env, 'linux', '/home/a')).toBe(resolve('given'))
    expect(dataFolder(undefined, env, 'linux', '/home/a')).toBe(resolve('from-env'))
    expect(dataFolder(undefined, {}, 'linux', '/home/a')).toBe(
      join('/home/a', '.local', 'share', 'stillhold'),
    )
    expect(dataFolder(undefined, { XDG_DATA_HOME: '/x' }, 'linux', '/home/a')).toBe(join('/x', 'stillhold'))
    expect(dataFolder(undefined, { XDG_DATA_HOME: 'x' }, 'linux', '/home/a')).toBe(
      join('/home/a', '.local', 'share', 'stillhold'),
    )
    expect(dataFolder(undefined, {}, 'darwin', '/Users/a')).toBe(
      join('/Users/a', 'Library', 'Application Support', 'stillhold'),
    )
    expect(dataFolder(undefined, { LOCALAPPDATA: 'L' }, 'win32', 'H')).toBe(join('L', 'stillhold'))
  })
})
