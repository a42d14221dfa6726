import { readFileSync } from 'node:fs'
import { expect, it } from 'vitest'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { readSystemFile } from '#ingest/system-file/read-system-file.ts'
import { demoRecordingPath, floatplaneText } from '#tests/dashboard/archive/sealed-hold.ts'

const system = readSystemFile(floatplaneText, 'floatplane.yaml').system!

it.each([4, 5, 1])('a hold whose gauge was swapped with p%i does not pass, leaking or tight', (other) => {
  for (const name of ['lines-leak', 'lines-retest']) {
    const text = readFileSync(demoRecordingPath(name), 'utf8')
    const swapped = text
      .replaceAll('p3=', 'swap=')
      .replaceAll(`p${other}=`, 'p3=')
      .replaceAll('swap=', `p${other}=`)
    expect(swapped).not.toBe(text)
    const found = analyzeRecording(readRecording(Buffer.from(swapped), system, name), system)
    expect(found).toHaveLength(1)
    expect(found[0].result.verdict).not.toBe('pass')
  }
})
