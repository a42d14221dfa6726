import type { Verdict } from '#analysis/model/hold-result.ts'
import { type ProofState, stateWords } from '../words.ts'
import { type Brush, circle } from './brush.ts'

type State = Verdict | ProofState

const passed = [
  ['shape-fill', circle(9.5)],
  ['shape-cut', 'M-4.6 0.4 L-1.2 3.8 L4.9 -3.6'],
] as const
const failed = [
  ['shape-fill', 'M0 -11 L11 0 L0 11 L-11 0 Z'],
  ['shape-cut', 'M0 -5 V1.2 M0 4.6 V5'],
] as const
const ring = ['shape-line', circle(8.5)] as const

/**
 * One shape a state, so that it is legible without color: full disc, half disc, diamond, dashed ring, ring with a bar,
 * ring with a wave. Drawn around 0,0 with radius 10.
 */
const shapes: Readonly<Record<State, readonly (readonly [look: string, path: string])[]>> = {
  pass: passed,
  proven: passed,
  stale: [ring, ['shape-fill', 'M0 -8.5 A8.5 8.5 0 0 0 0 8.5 Z']],
  fail: failed,
  failed,
  void: [ring, ['shape-line', 'M-6 6 L6 -6']],
  undecided: [ring, ['shape-line', 'M-5 0.8 C-3 -3 -1.6 -3 0 0 C1.6 3 3 3 5 -0.8']],
  'never-held': [['shape-line shape-dashed', circle(8.5)]],
}

export const StateShape = ({ state }: { state: State }) => (
  <>
    {shapes[state].map(([look, path]) => (
      <path key={path} class={look} d={path} />
    ))}
  </>
)

/** The shape of a verdict at a point of a chart. */
export function drawState(brush: Brush, state: Verdict, at: readonly [number, number]): void {
  brush.shape(circle(13), at, { token: '--surface', fill: true })
  for (const [look, path] of shapes[state])
    brush.shape(path, at, {
      token: look === 'shape-cut' ? '--surface' : `--${state}`,
      width: 2.6,
      fill: look === 'shape-fill',
    })
}

export const StateMark = ({ state }: { state: State }) => (
  <svg class={`state-mark is-${state}`} viewBox="-12 -12 24 24" aria-hidden="true">
    <StateShape state={state} />
  </svg>
)

/** A state with its word; another word where it needs one. */
export const StateWord = ({ state, word }: { state: State; word?: string }) => (
  <span class={`state-word is-${state}`}>
    <StateMark state={state} />
    {word ?? stateWords[state]}
  </span>
)
