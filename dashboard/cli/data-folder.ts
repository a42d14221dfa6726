import { homedir } from 'node:os'
import { isAbsolute, join, resolve } from 'node:path'

/**
 * Location of the archive: the folder given with `--data`, else `STILLHOLD_DATA`, else the platform's usual place for
 * a program's data (XDG on Linux, Application Support on macOS, LOCALAPPDATA on Windows).
 */
export function dataFolder(
  given: string | undefined,
  env: NodeJS.ProcessEnv = process.env,
  platform: NodeJS.Platform = process.platform,
  home: string = homedir(),
): string {
  if (given) return resolve(given)
  if (env.STILLHOLD_DATA) return resolve(env.STILLHOLD_DATA)
  if (platform === 'darwin') return join(home, 'Library', 'Application Support', 'stillhold')
  if (platform === 'win32') return join(env.LOCALAPPDATA || join(home, 'AppData', 'Local'), 'stillhold')
  // The XDG rule: a relative path is ignored.
  const xdg = env.XDG_DATA_HOME ?? ''
  return join(isAbsolute(xdg) ? xdg : join(home, '.local', 'share'), 'stillhold')
}
