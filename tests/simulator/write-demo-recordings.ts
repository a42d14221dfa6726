import { readFileSync, writeFileSync } from 'node:fs'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { demoRecordingFiles } from './demo-recording-files.ts'

/** `npx tsx tests/simulator/write-demo-recordings.ts` writes the demo recordings anew: the same bytes every time. */
const folder = new URL('../../recordings/', import.meta.url)
const system = systemFromFile(readFileSync(new URL('floatplane.yaml', folder), 'utf8'), 'floatplane.yaml')
for (const [name, text] of demoRecordingFiles(system)) {
  writeFileSync(new URL(name, folder), text)
  console.log(`${name}: ${Math.ceil(text.length / 1000)} kB`)
}
