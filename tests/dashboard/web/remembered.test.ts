import { expect, test } from 'vitest'
import type { LiveState } from '#dashboard/api.ts'
import { confirm, rememberedAt } from '#dashboard/web/start/remembered.ts'

const sentences = ['V1 (left selector) is shut', 'Eye protection is on']
const state = (aircraft?: string) =>
  ({ aircraft, last: null, marks: [], recordingStartNs: '0', nowS: 10 }) as unknown as LiveState

test('rememberedAt(…) forgets what was confirmed at another aircraft of the workshop, valves with the rest', () => {
  confirm('rig-10psi', sentences, new Map(), state('amber'))
  expect([...rememberedAt(sentences, state('amber')).keys()]).toEqual(sentences)
  expect(rememberedAt(sentences, state('blue')).size).toBe(0)
  confirm('rig-10psi', [sentences[1]], new Map(), state('blue'))
  expect([...rememberedAt(sentences, state('blue')).keys()]).toEqual([sentences[1]])
  expect(rememberedAt(sentences, state('amber')).size).toBe(0)
})

test('rememberedAt(…) remembers at a bench of one aircraft, which names none', () => {
  confirm('rig-10psi', sentences, new Map(), state())
  expect(rememberedAt(sentences, state()).size).toBe(2)
})
