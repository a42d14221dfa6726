import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach } from 'vitest'
import { openArchive } from '#dashboard/archive/archive.ts'
import { BenchSession } from '#dashboard/server/session/bench-session.ts'
import type { SessionOptions } from '#dashboard/server/session/session-core.ts'
import { SystemFileOnDisk } from '#dashboard/server/session/system-file-on-disk.ts'
import { arrivalNow } from '#ingest/sources/arrival-now.ts'
import type { PortListener } from '#ingest/sources/port.ts'

export const onePsi = 6894.757293

export const oneLine = `stillhold: 1
name: one line
channels:
  - { id: p, measures: gauge-pressure, section: line, from: { measurement: logger, field: p }, unit: psi, range: 0 psi to 30 psi }
  - { id: t, measures: temperature, section: line, from: { measurement: logger, field: t }, unit: degC }
sections:
  - { id: line, medium: air, volume: 0.5 L, max-pressure: 20 psi }
  - { id: rig, medium: air, volume: 0.1 L, max-pressure: 10 psi }
fittings:
  - { id: F1, section: line, kind: flare }
holds:
  - { id: h, sections: [line], pressure: 10 psi, settle: 30 s, hold: 60 s, allow: { drop: 0.1 psi } }
  - { id: barred, sections: [rig], pressure: 10 psi, settle: 30 s, hold: 60 s, allow: { drop: 0.1 psi } }
`

export const startNs = 1_767_225_600_000_000_000n

/** A session whose logger sends what a test feeds, at the times that it says: bench time is that of the lines. */
export async function fedSession(options: Partial<SessionOptions> = {}, text = oneLine) {
  const folder = mkdtempSync(join(tmpdir(), 'stillhold-fed-'))
  const sessionFolder = join(folder, 'data', 'session')
  const systemPath = join(folder, 'aircraft.yaml')
  writeFileSync(systemPath, text)
  mkdirSync(sessionFolder, { recursive: true })
  const archive = openArchive(join(folder, 'data'), { programVersion: '0.0.0-test' })
  let listener: PortListener | null = null
  const port = {
    name: 'left',
    open: async (given: PortListener) => {
      listener = given
      given.opened(arrivalNow())
    },
    close: async () => {
      listener?.closed(arrivalNow())
    },
  }
  const said: string[] = []
  const session = new BenchSession({
    ...{
      systemFile: new SystemFileOnDisk(systemPath),
      archive,
      folder: sessionFolder,
      version: '0.0.0-test',
    },
    // Any other speed than 1 leaves the time to the lines.
    ...{ ports: [{ port }], speed: 2, log: (line: string) => void said.push(line) },
    ...options,
  })
  await session.open()
  let atS = 0
  const line = (text: string) => listener!.bytes(Buffer.from(`${text}\n`), arrivalNow())
  /** One reading of `psi`, `stepS` after the last. */
  const read = (psi: number, stepS = 1) => {
    atS += stepS
    line(`logger p=${psi.toFixed(5)},t=20.00 ${startNs + BigInt(Math.round(atS * 1e9))}`)
  }
  return {
    session,
    archive,
    folder,
    sessionFolder,
    said,
    line,
    read,
    get atS() {
      return atS
    },
    /** A reading each second, `psi` after each number of seconds. */
    feed(seconds: number, psi: number | ((s: number) => number)) {
      for (let s = 1; s <= seconds; s++) read(typeof psi === 'number' ? psi : psi(s))
    },
    /** Pumped up and settling begun. */
    pumpUp() {
      session.startHold({ hold: 'h', operator: 'A. B.', witness: null, stateSheet: [], retests: null })
      for (let s = 1; s <= 5; s++) read(2 * s)
      session.enterStage('settle')
    },
    /** What the recordings have so far. */
    recorded() {
      session.core.recording.sync()
      return readdirSync(sessionFolder)
        .filter((name) => name.endsWith('.lp'))
        .map((name) => readFileSync(join(sessionFolder, name), 'utf8'))
        .join('')
    },
    async close() {
      await session.close()
      archive.close()
      rmSync(folder, { recursive: true, force: true })
    },
  }
}

/** Opens fed sessions that are closed after each test of the file that calls this. */
export function fedSessions(): typeof fedSession {
  const opened: Awaited<ReturnType<typeof fedSession>>[] = []
  afterEach(async () => {
    for (const fed of opened.splice(0)) await fed.close()
  })
  return async (...given) => {
    const fed = await fedSession(...given)
    opened.push(fed)
    return fed
  }
}
