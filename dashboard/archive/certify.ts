import { readFileSync } from 'node:fs'
import type { Archive } from './archive.ts'
import { diskError } from './archive-error.ts'
import { renderCertificate } from './certificate.ts'
import { recomputeHold } from './recompute-hold.ts'

/** Prints a record of the archive as a certificate. */
export async function certify(archive: Archive, id: string): Promise<Uint8Array> {
  const record = archive.get(id)
  const path = archive.recordingPath(id)
  const recording = path === null ? null : readRecordingFile(path)
  const { system, analysis } = recomputeHold(record, recording)
  const recordText = archive.getText(id)
  return renderCertificate({ record, recordText, recording, system, analysis }, archive.signingKey())
}

function readRecordingFile(path: string): Uint8Array {
  try {
    return readFileSync(path)
  } catch (cause) {
    throw diskError('read the recording', path, cause)
  }
}
