import { readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { marksApart, marksOf, readWithMarks } from '#dashboard/cli/named-recordings.ts'
import { readRecordingFile } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { emptyFolder } from '#tests/empty-folder.ts'

const system = systemFromFile(readFileSync('recordings/floatplane.yaml', 'utf8'), 'floatplane.yaml')
const retest = readFileSync('recordings/lines-retest.lp', 'utf8').trimEnd().split('\n')
const isMark = (line: string) => line.startsWith('mark,')
const made = retest.filter(isMark)
/** Three minutes into the hold. */
const inHoldNs =
  BigInt(
    made
      .find((line) => line.includes('name="hold"'))!
      .split(' ')
      .at(-1)!,
  ) + 180_000_000_000n
const work = `mark,kind=work,id=F12 action="retighten" ${inHoldNs}`

function files(marks: readonly string[]): string[] {
  const folder = emptyFolder()
  const [samplesFile, marksFile] = [join(folder, 'logger.lp'), join(folder, 'notes.lp')]
  writeFileSync(samplesFile, `${retest.filter((line) => !isMark(line)).join('\n')}\n`)
  writeFileSync(marksFile, `${marks.join('\n')}\n`)
  return [samplesFile, marksFile]
}

describe('a file of marks beside the logger’s recording', () => {
  it('counts as if its marks were in the recording: work in the hold voids it', () => {
    const [path, marksFile] = files([...made, work])
    const apart = marksApart([path, marksFile], system)
    expect(apart.map(({ file }) => file)).toEqual([marksFile])
    const taken = marksOf(readRecordingFile(path, system), apart)
    const [{ result }] = analyzeRecording(readWithMarks({ path, name: 'logger.lp' }, system, taken), system)
    expect(result).toMatchObject({ hold: 'feed-lines-10psi', verdict: 'void' })
    expect(result.reasons.map(({ code }) => code)).toContain('work-during-hold')
  })

  it('belongs to a recording within ten minutes of its time, and to no other', () => {
    const lastNs = BigInt(retest.at(-1)!.split(' ').at(-1)!)
    const late = (seconds: number) =>
      `mark,kind=note text="later" ${lastNs + BigInt(seconds) * 1_000_000_000n}`
    const takenFrom = (mark: string) => {
      const paths = files([mark])
      return marksOf(readRecordingFile(paths[0]!, system), marksApart(paths, system)).length
    }
    expect([takenFrom(late(599)), takenFrom(late(601))]).toEqual([1, 0])
  })
})
