import { readFileSync } from 'node:fs'
import { holdSuspects } from '#analysis/hunt/hunt.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { readRecordingFile } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'

// Run alone, so that its code is cold: `tsx cold-suspects.ts RECORDING SYSTEM` prints the processor time of each part.
const [recordingPath, systemPath] = process.argv.slice(2)
const system = systemFromFile(readFileSync(systemPath, 'utf8'), systemPath)
const recording = readRecordingFile(recordingPath, system)
const atStart = cpuMs()
const [{ result }] = analyzeRecording(recording, system, { live: true })
const analyzed = cpuMs()
holdSuspects(system, result, recording)
console.log(JSON.stringify({ holdMs: analyzed - atStart, suspectsMs: cpuMs() - analyzed }))

function cpuMs(): number {
  const { user, system: kernel } = process.cpuUsage()
  return (user + kernel) / 1000
}
