import { expect, it } from 'vitest'
import { sources } from './source-files.ts'

const mostLines = 300

/** Longer for a reason, each by no more than half as much again. */
const excepted: Readonly<Record<string, string>> = {
  'ingest/line-protocol/line-parser.ts': 'one state machine over bytes, read from top to bottom',
  'ingest/line-protocol/column-reader.ts': 'the same machine for typed columns, fast because it is one piece',
}

it(`no source file is longer than ${mostLines} lines, but for those with a reason`, () => {
  const long = sources
    .map(({ path, text }) => ({ path, lines: text.split('\n').length - 1 }))
    .filter(({ lines }) => lines > mostLines)
  expect(
    long.filter(({ path }) => !(path in excepted)).map(({ path, lines }) => `${path}: ${lines}`),
  ).toEqual([])
  expect(long.filter(({ lines }) => lines > 1.5 * mostLines).map(({ path }) => path)).toEqual([])
})
