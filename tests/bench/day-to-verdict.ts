import { readFileSync } from 'node:fs'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { readRecordingFile } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'

// Run alone, so that its memory is its own: `tsx day-to-verdict.ts RECORDING SYSTEM` prints what it took as JSON.
const [recordingPath, systemPath] = process.argv.slice(2)
const baseMB = process.resourceUsage().maxRSS / 1024
const baseCpuS = cpuS()
const began = performance.now()
const system = systemFromFile(readFileSync(systemPath, 'utf8'), systemPath)
const recording = readRecordingFile(recordingPath, system)
const read = performance.now()
const readCpuS = cpuS()
const readMB = process.resourceUsage().maxRSS / 1024
const holds = analyzeRecording(recording, system)
const done = performance.now()
console.log(
  JSON.stringify({
    samples: recording.channels.reduce((sum, { timeS }) => sum + timeS.length, 0),
    verdicts: holds.map(({ result }) => result.verdict),
    readS: (read - began) / 1000,
    readCpuS: readCpuS - baseCpuS,
    totalS: (done - began) / 1000,
    totalCpuS: cpuS() - baseCpuS,
    baseMB,
    readMB,
    peakMB: process.resourceUsage().maxRSS / 1024,
  }),
)

/** Processor time so far, all threads, [s]: what a busy machine does not change. */
function cpuS(): number {
  const { user, system: kernel } = process.cpuUsage()
  return (user + kernel) / 1e6
}
