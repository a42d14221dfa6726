import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { type Archive, type ArchiveOptions, openArchive } from '#dashboard/archive/archive.ts'
import { printReport } from '#dashboard/archive/print.ts'
import type { RecordDraft } from '#dashboard/archive/record.ts'
import { atEnd } from '#tests/at-end.ts'
import { emptyFolder } from '#tests/empty-folder.ts'

export { emptyFolder }

/** Opens an archive that is closed at the end of the file; the clock goes on a minute with every seal. */
export function archiveIn(folder: string, options: Partial<ArchiveOptions> = {}): Archive {
  let minute = 0
  const now = () => new Date(Date.UTC(2026, 3, 11, 9, minute++))
  const archive = openArchive(folder, { programVersion: '0.0.0-test', now, ...options })
  atEnd(() => archive.close())
  return archive
}

export function writeRecording(folder: string, name: string, text: string): string {
  const path = join(folder, name)
  writeFileSync(path, text)
  return path
}

export const tinyRecording = [
  '# stillhold recording 1',
  'mark,kind=stage,hold=left-feed-10psi name="pump-up" 1775898000000000000',
  'logger,port=a p1=10.02,t1=18.4 1775898000000000000',
  'logger,port=a p1=10.01,t1=18.4 1775898001000000000',
  '',
].join('\n')

/** A hold's draft as the bench hands it in; figures are of the demo scenario, not measured. */
export function holdDraft(recordingPath: string | null, changes: Partial<RecordDraft> = {}): RecordDraft {
  return {
    kind: 'hold',
    recordingPath,
    systemText: 'stillhold: 1\nname: high-wing floatplane, both wings\n',
    systemName: 'high-wing floatplane, both wings',
    result: {
      stillhold: 1,
      recording: 'left-feed.lp',
      hold: 'left-feed-10psi',
      sections: ['left-feed'],
      verdict: 'pass',
      reasons: [{ code: 'leak-below-allowance', message: 'The leak is below the allowance.' }],
      stages: { source: 'marks', pump_up_ns: null, settle_ns: null, hold_ns: null, vent_ns: null },
      seconds: 600,
      leak: { section: 'left-feed', drop_Pa: { value: 410, low: 370, high: 450 } },
      allowance: { drop_Pa: 690 },
      raw_drop_Pa: 980,
      needs_seconds_more: null,
      fittings: [{ id: 'F07', leaking: 0.02 }],
      events: [],
    },
    operator: 'A. B.',
    witness: null,
    photos: [],
    note: null,
    corrects: null,
    retests: null,
    origins: [{ channel: 'p-left', kind: 'serial', name: '/dev/ttyUSB0', sha256: null }],
    ...changes,
  }
}

/** A draft of work on a fitting. */
export const workDraft = (fitting: string) => holdDraft(null, { kind: 'work', result: { fitting } })

/** An archive of work on these fittings, closed. */
export function sealedWork(...fittings: string[]) {
  const folder = emptyFolder()
  const archive = archiveIn(folder)
  const ids = fittings.map((fitting) => archive.seal(workDraft(fitting)).id)
  archive.close()
  return { folder, ids, file: (id: string) => join(folder, 'records', `${id}.json`) }
}

/** The test report of a record, as `stillhold report` prints it. */
export async function reportOf(archive: Archive, id: string): Promise<Buffer> {
  return Buffer.from(await printReport(archive.folder, archive.keptRecord(id), '0.0.0-test'))
}
