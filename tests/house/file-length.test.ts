import { expect, it } from 'vitest'
import { sources } from './source-files.ts'

const mostLines = 400

it(`no source file has more than ${mostLines} lines`, () => {
  const long = sources
    .map(({ path, text }) => ({ path, lines: text.split('\n').length - 1 }))
    .filter(({ lines }) => lines > mostLines)
  expect(long.map(({ path, lines }) => `${path}: ${lines}`)).toEqual([])
})
