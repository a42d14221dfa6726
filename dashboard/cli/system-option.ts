import { existsSync, readFileSync } from 'node:fs'
import type { HoldSpec, System } from '#analysis/model/system.ts'
import { type DisplayUnits, unitsNamed, unitsOfSystem } from '#analysis/reasons/figures.ts'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'

export interface SystemOptions {
  readonly system?: string
  readonly units?: string
}

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
