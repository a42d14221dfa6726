import { readdirSync, readFileSync } from 'node:fs'
import { expect, test } from 'vitest'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { demoRecordingFiles } from '#tests/simulator/demo-recording-files.ts'

const folder = new URL('../../../recordings/', import.meta.url)
const text = (name: string) => readFileSync(new URL(name, folder), 'utf8')

test('demoRecordingFiles: the files in recordings/ are what the command writes, byte by byte, and no others', () => {
  const files = demoRecordingFiles(systemFromFile(text('floatplane.yaml'), 'floatplane.yaml'))
  for (const [name, wanted] of files)
    expect(text(name) === wanted, `${name} differs: run the command`).toBe(true)
  // recordings/wet has its own command and test
  const ours = (name: string): boolean => files.has(name) || name === 'floatplane.yaml' || name === 'wet'
  const others = readdirSync(folder).filter((name) => !ours(name))
  expect(others).toEqual([])
})

test('demoRecordingFiles: every recording is under 300 kB, begins with the version line and has lines in time order', () => {
  const files = demoRecordingFiles(systemFromFile(text('floatplane.yaml'), 'floatplane.yaml'))
  for (const [name, recording] of files) {
    if (!name.endsWith('.lp')) continue
    expect(recording.length).toBeLessThan(300_000)
    const lines = recording.trimEnd().split('\n')
    expect(lines[0]).toBe('# stillhold recording 1')
    const times = lines.slice(1).map((line) => BigInt(line.slice(line.lastIndexOf(' ') + 1)))
    expect(
      times.every((at, i) => i === 0 || at >= times[i - 1]),
      name,
    ).toBe(true)
  }
})
