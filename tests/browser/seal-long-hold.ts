import { closeSync, openSync, writeSync } from 'node:fs'
import { join } from 'node:path'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import type { Archive } from '#dashboard/archive/archive.ts'
import { readRecordingFile } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'

const readingsPerS = 10
const startNs = 1_767_225_600_000_000_000n

/** A tight rig at 10 psi for so many minutes, ten lines a second of gauge, thermometer and barometer, [text of a file]. */
function writeRecording(path: string, minutes: number): void {
  const endS = minutes * 60
  const stages: Readonly<Record<number, string>> = {
    60: 'pump-up',
    90: 'settle',
    210: 'hold',
    [endS - 60]: 'vent',
    [endS - 5]: 'end',
  }
  let seed = 1
  const noise = (): number => {
    seed = (seed * 1_103_515_245 + 12_345) & 0x7fffffff
    return seed / 0x7fffffff - 0.5
  }
  const file = openSync(path, 'w')
  let text = '# stillhold recording 1\n'
  for (let i = 0; i < endS * readingsPerS; i++) {
    const t = i / readingsPerS
    const ns = startNs + BigInt(Math.round(t * 1e9))
    const stage = Number.isInteger(t) ? stages[t] : undefined
    if (stage) text += `mark,kind=stage,hold=rig-10psi name="${stage}" ${ns}\n`
    const celsius = 17 + 2 * Math.sin((2 * Math.PI * t) / 86_400)
    const warm = (273.15 + celsius) / 290.15
    const weatherHPa = 0.5 * Math.sin(t / 9000)
    const held =
      10 * (1 + 0.03 * Math.exp(-(t - 75) / 30)) * warm + 14.7 * (warm - 1) - weatherHPa / 68.947573
    const psi = t < 60 ? 0 : t < 75 ? (t - 60) / 1.5 : t < endS - 60 ? held : Math.max(0, endS - 50 - t)
    text += `logger p5=${(psi + 0.002 * noise()).toFixed(4)},t5=${(celsius + 0.02 * noise()).toFixed(2)},baro=${(1013 + weatherHPa + 0.05 * noise()).toFixed(2)} ${ns}\n`
    if (text.length < 1e6) continue
    writeSync(file, text)
    text = ''
  }
  writeSync(file, text)
  closeSync(file)
}

/** Seals a hold that lasts nearly so many minutes, as the program seals one; returns its record's id. */
export function sealLongHold(archive: Archive, folder: string, systemText: string, minutes: number): string {
  const text = systemText.replace(
    'settle: 2 min\n    hold: 5 min',
    `settle: 2 min\n    hold: ${minutes - 5} min`,
  )
  const system = systemFromFile(text, 'aircraft.yaml')
  const recordingPath = join(folder, `long-${minutes}.lp`)
  writeRecording(recordingPath, minutes)
  const [{ result }] = analyzeRecording(readRecordingFile(recordingPath, system), system)
  return archive.seal({
    kind: 'hold',
    recordingPath,
    systemText: text,
    systemName: system.name,
    result,
    operator: 'O. P.',
  }).id
}
