import { readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'

const folder = new URL('../../recordings/', import.meta.url)
const text = (name: string) => readFileSync(new URL(name, folder), 'utf8')

interface Expected {
  readonly system: string
  readonly recordings: readonly { readonly file: string; readonly hold: string; readonly verdict: string }[]
}

const expected = JSON.parse(text('expected.json')) as Expected
const system = systemFromFile(text(expected.system), expected.system)

describe('analyzeRecording: every demo recording gets the verdict that expected.json gives it', () => {
  test.each(expected.recordings.map(({ file, hold, verdict }) => [file, verdict, hold] as const))(
    '%s: %s',
    (file, verdict, hold) => {
      const results = analyzeRecording(readRecording(text(file), system, file), system).map(
        ({ result }) => result,
      )
      expect(results.map(({ hold: id }) => id)).toEqual([hold])
      expect(results[0].verdict, results[0].reasons.map(({ message }) => message).join(' ')).toBe(verdict)
    },
  )
})
