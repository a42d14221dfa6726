import { expect, test } from 'vitest'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { contractSystem } from './contract-system.ts'

const system = systemFromFile(contractSystem, 'contract.yaml')
const header = '# stillhold recording 1\n'
const kinds = (lines: readonly string[]): string[] =>
  readRecording(header + lines.map((line) => `${line}\n`).join(''), system, 'a.lp').marks.map(
    ({ kind, id }) => `${kind} ${id ?? ''}`.trim(),
  )

// Contract, section 6: `mark,kind=correction of="<ns of the mark>"`.
test('readRecording() leaves out the mark that a correction names, and keeps the correction', () => {
  expect(
    kinds([
      'mark,kind=look,id=F07 finding="bubbles" 1767225600000000001',
      'mark,kind=look,id=F08 finding="bubbles" 1767225601000000000',
      'mark,kind=correction of="1767225600000000001" 1767225605000000000',
    ]),
  ).toEqual(['look F08', 'correction'])
})
test('readRecording() lets no correction withdraw a mark of the program: a fault, a gap, a wrong clock', () => {
  const noted = ['fault code="interrupted"', 'gap seconds=9', 'clock seconds=-3']
  expect(
    kinds(
      noted.flatMap((fields, i) => [
        `mark,kind=${fields} 176722560${i}000000000`,
        `mark,kind=correction of="176722560${i}000000000" 1767225609000000000`,
      ]),
    ).filter((kind) => kind !== 'correction'),
  ).toEqual(['fault', 'gap', 'clock'])
})
test('readRecording() lets no logger withdraw a mark', () => {
  expect(
    kinds([
      'mark,kind=look,id=F07 finding="bubbles" 1767225600000000001',
      'mark,kind=correction,from=logger of="1767225600000000001" 1767225605000000000',
    ]),
  ).toEqual(['look F07', 'correction'])
})
test('readRecording() loses no mark to a correction of an unknown time', () => {
  expect(
    kinds([
      'mark,kind=note text="door" 1767225600000000000',
      'mark,kind=correction of="1" 1767225605000000000',
    ]),
  ).toEqual(['note', 'correction'])
})
