import { expect, test } from 'vitest'
import { placeWords } from '#dashboard/web/parts/place-words.ts'

const room = [0, 400] as const

test('placeWords() leaves no mark of three that stand together without its words: they go under each other', () => {
  const marks = [100, 104, 150].map((at) => ({ at, width: 80 }))
  expect(placeWords(marks, room, 4)).toEqual([
    { line: 0, from: 104 },
    { line: 1, from: 108 },
    { line: 2, from: 154 },
  ])
})
test('placeWords() goes back to the first line where it is free again', () => {
  const marks = [10, 20, 200].map((at) => ({ at, width: 80 }))
  expect(placeWords(marks, room, 4).map((one) => one?.line)).toEqual([0, 1, 0])
})
test('placeWords() writes left of a mark at the right edge, where the newest of a running hold stands', () => {
  expect(placeWords([{ at: 395, width: 80 }], room, 4)).toEqual([{ line: 0, from: 311 }])
})
test('placeWords() lets no words cover others: the fifth of five close together goes without', () => {
  const marks = [100, 101, 102, 103, 104].map((at) => ({ at, width: 80 }))
  expect(placeWords(marks, room, 4).map((one) => one?.line)).toEqual([0, 1, 2, 3, undefined])
})
