import type { Verdict } from '#analysis/model/hold-result.ts'
import type { ProofState } from '../words.ts'

type State = Verdict | ProofState

/**
 * One shape a state, so that it reads without color: full disc, half disc, diamond, dashed ring, ring with a bar,
 * ring with a wave. Drawn around 0,0 with radius 10.
 */
export function StateShape({ state }: { state: State }) {
  switch (state) {
    case 'pass':
    case 'proven':
      return (
        <>
          <circle class="shape-fill" r="9.5" />
          <path class="shape-cut" d="M-4.6 0.4 L-1.2 3.8 L4.9 -3.6" />
        </>
      )
    case 'stale':
      return (
        <>
          <circle class="shape-line" r="8.5" />
          <path class="shape-fill" d="M0 -8.5 A8.5 8.5 0 0 0 0 8.5 Z" />
        </>
      )
    case 'fail':
    case 'failed':
      return (
        <>
          <path class="shape-fill" d="M0 -11 L11 0 L0 11 L-11 0 Z" />
          <path class="shape-cut" d="M0 -5 V1.2 M0 4.6 V5" />
        </>
      )
    case 'void':
      return (
        <>
          <circle class="shape-line" r="8.5" />
          <path class="shape-line" d="M-6 6 L6 -6" />
        </>
      )
    case 'undecided':
      return (
        <>
          <circle class="shape-line" r="8.5" />
          <path class="shape-line" d="M-5 0.8 C-3 -3 -1.6 -3 0 0 C1.6 3 3 3 5 -0.8" />
        </>
      )
    case 'never-held':
      return <circle class="shape-line shape-dashed" r="8.5" />
  }
}

export function StateMark({ state, size = 1 }: { state: State; size?: number }) {
  return (
    <svg class={`state-mark is-${state} size-${size}`} viewBox="-12 -12 24 24" aria-hidden="true">
      <StateShape state={state} />
    </svg>
  )
}

export function StateWord({ state, word }: { state: State; word: string }) {
  return (
    <span class={`state-word is-${state}`}>
      <StateMark state={state} />
      {word}
    </span>
  )
}
