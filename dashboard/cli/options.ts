import { existsSync, readFileSync } from 'node:fs'
import { homedir } from 'node:os'
import { isAbsolute, join, resolve } from 'node:path'
import type { HoldSpec, System } from '#analysis/model/system.ts'
import { type DisplayUnits, unitsNamed, unitsOfSystem } from '#analysis/reasons/figures.ts'
import { writeFileDurably } from '#dashboard/archive/write-durably.ts'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import type { OptionsOf } from './command.ts'

/** The default system file in the working folder. */
export const usualFile = 'aircraft.yaml'

export const systemOption = [
  '--system <file>',
  `system file (default: $STILLHOLD_SYSTEM, else ${usualFile} in this folder)`,
] as const

export const systemOptions = [
  systemOption,
  [
    '--units <units>',
    'units of the answers, such as kPa or psi,degF (default: the units of the system file)',
  ],
] as const

export type SystemOptions = OptionsOf<typeof systemOptions>

/** A parsed system file, and the units of the answers. */
export interface OpenedSystem {
  readonly file: string
  readonly text: string
  readonly system: System
  /** Units for these sections: those requested, else the aircraft's. */
  units(sections?: readonly string[]): DisplayUnits
}

/**
 * @param otherwise default when no file is given
 * @throws UnreadableFile naming the file and its fault, or the unknown unit
 */
export function openSystem(
  options: SystemOptions,
  otherwise?: { readonly file: string; readonly text: string },
): OpenedSystem {
  const file =
    options.system ?? process.env.STILLHOLD_SYSTEM ?? (existsSync(usualFile) ? usualFile : otherwise?.file)
  if (file === undefined)
    throw new UnreadableFile(
      '--system',
      null,
      `no system file is named: give --system FILE, set STILLHOLD_SYSTEM, or keep ${usualFile} in this folder`,
    )
  const text =
    file === otherwise?.file
      ? otherwise.text
      : readable(file, () => readFileSync(file === '-' ? 0 : file, 'utf8'))
  const system = systemFromFile(text, file)
  const units = (sections?: readonly string[]): DisplayUnits => {
    const own = unitsOfSystem(system, sections)
    return options.units === undefined ? own : unitsNamed(options.units, own)
  }
  try {
    units()
  } catch (cause) {
    throw new UnreadableFile('--units', null, (cause as RangeError).message)
  }
  return { file, text, system, units }
}

/** @throws UnreadableFile naming the existing holds */
export function holdOf({ system, file }: OpenedSystem, id: string): HoldSpec {
  const spec = system.holds.find((hold) => hold.id === id)
  if (spec !== undefined) return spec
  const known = system.holds.map((hold) => hold.id).join(', ') || 'none'
  throw new UnreadableFile(file, null, `has no hold "${id}"; its holds: ${known}`)
}

/**
 * Runs a read; an error of the file system becomes one clear line.
 *
 * @throws UnreadableFile
 */
export function readable<T>(file: string, read: () => T): T {
  try {
    return read()
  } catch (cause) {
    const { code } = cause as NodeJS.ErrnoException
    if (cause instanceof UnreadableFile || code === undefined) throw cause
    const problem =
      code === 'ENOENT' ? 'no such file' : code === 'EISDIR' ? 'is a folder' : `cannot be read (${code})`
    throw new UnreadableFile(file, null, problem)
  }
}

/**
 * Refuses to overwrite a file without `--force`; `-` is standard output.
 *
 * @throws UnreadableFile
 */
export function refuseExisting(out: string, force: boolean | undefined): void {
  if (out !== '-' && !force && existsSync(out))
    throw new UnreadableFile(out, null, 'already exists; choose another name with --out, or add --force')
}

/** Writes a result that is a file; `-` is standard output. */
export function writeOut(out: string, content: string | Uint8Array): void {
  if (out === '-') process.stdout.write(content)
  else writeFileDurably(out, content)
}

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
