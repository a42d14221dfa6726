import { existsSync, readdirSync, readFileSync } from 'node:fs'
import { basename, join } from 'node:path'
import type { DemoBench } from '#ingest/sources/demo-bench.ts'
import { readSystemFile } from '#ingest/system-file/read-system-file.ts'
import { RequestError } from './http/request-error.ts'
import { noteName } from './session/hold-note.ts'
import type { SessionPort } from './session/session-ports.ts'

/** One aircraft of a workshop: its system file, and its archive folder. */
export interface Aircraft {
  readonly id: string
  readonly systemPath: string
  readonly dataFolder: string
  readonly isDemo: boolean
}

export interface BenchOfAircraft {
  readonly aircraft: string
  readonly systemPath: string
  readonly dataFolder: string
  /** Opened again at each change. */
  readonly ports: readonly SessionPort[]
  /** Null where the bench is not simulated. */
  readonly demo: DemoBench | null
}

/**
 * The aircraft of a folder: `NAME.yaml` is a system file, and `NAME` beside it is its archive folder.
 *
 * @throws Error with one plain sentence when the folder has no aircraft
 */
export function aircraftIn(folder: string): Aircraft[] {
  const names = existsSync(folder) ? readdirSync(folder).filter((name) => /\.ya?ml$/.test(name)) : []
  if (names.length === 0)
    throw new Error(`${folder} has no system file: put one in it for each aircraft, such as left-hangar.yaml`)
  return names.sort().map((name) => {
    const id = name.replace(/\.ya?ml$/, '')
    return { id, systemPath: join(folder, name), dataFolder: join(folder, id), isDemo: false }
  })
}

/** Several aircraft in one workshop. The gauge is on one at a time, so the bench is set to one aircraft. */
export class Workshop {
  readonly #aircraft: readonly Aircraft[]
  /** Context for the bench of an aircraft. */
  readonly benchOf: (aircraft: Aircraft) => BenchOfAircraft
  chosen: Aircraft
  /** Switches the bench to another aircraft. @throws RequestError while a hold runs, or when it cannot be opened */
  open: (aircraft: Aircraft) => Promise<void> = async () => {}

  constructor(aircraft: readonly Aircraft[], benchOf: (aircraft: Aircraft) => BenchOfAircraft) {
    this.#aircraft = aircraft
    this.benchOf = benchOf
    // A hold that was running when the program ended continues only on its own aircraft.
    const isHolding = ({ dataFolder }: Aircraft) => existsSync(join(dataFolder, 'session', noteName))
    const sound = aircraft.filter((one) => this.#read(one).fault === null)
    const first = sound.find(isHolding) ?? sound[0]
    if (first === undefined)
      throw new Error(aircraft.map((one) => `${one.systemPath}: ${this.#read(one).fault}`).join('; '))
    this.chosen = first
  }

  list(): { id: string; name: string; fault: string | null; isChosen: boolean }[] {
    return this.#aircraft.map((one) => ({ ...this.#read(one), id: one.id, isChosen: one === this.chosen }))
  }

  /** @throws RequestError when there is no such aircraft, or the bench cannot switch to it now */
  async choose(id: string): Promise<void> {
    const found = this.#aircraft.find((one) => one.id === id)
    if (!found) throw new RequestError(409, `There is no aircraft ${id.slice(0, 80)} in this workshop.`)
    if (found === this.chosen) return
    const { fault } = this.#read(found)
    if (fault !== null) throw new RequestError(409, `${id}: ${fault}. Correct the file first.`)
    await this.open(found)
    this.chosen = found
  }

  #read({ systemPath, isDemo }: Aircraft): { name: string; fault: string | null } {
    const file = basename(systemPath)
    if (!existsSync(systemPath)) return { name: file, fault: `${file} is missing` }
    const { system, errors } = readSystemFile(readFileSync(systemPath, 'utf8'), file)
    const name = system ? `${system.name}${isDemo ? ', the simulated bench' : ''}` : file
    return { name, fault: errors[0] ? `${file}, line ${errors[0].line}: ${errors[0].message}` : null }
  }
}
