import type { Verdict } from '#analysis/model/hold-result.ts'

export const verdictWords: Readonly<Record<Verdict, { word: string; meaning: string }>> = {
  pass: { word: 'Pass', meaning: 'The leak is below the allowance, at least 95 times in 100.' },
  fail: { word: 'Fail', meaning: 'The leak is above the allowance.' },
  undecided: { word: 'Undecided', meaning: 'The data cannot tell yet.' },
  void: { word: 'Void', meaning: 'The data prove nothing.' },
}

export type ProofState = 'proven' | 'stale' | 'failed' | 'never-held'

export const proofWords: Readonly<Record<ProofState, string>> = {
  proven: 'proven',
  stale: 'stale',
  failed: 'failed',
  'never-held': 'never held',
}

export const stageOrder = ['pump-up', 'settle', 'hold', 'vent'] as const

export const stageWords = {
  'pump-up': { title: 'Pump-up', now: 'Pumping up' },
  settle: { title: 'Settle', now: 'Settling' },
  hold: { title: 'Hold', now: 'Holding' },
  vent: { title: 'Vent', now: 'Venting' },
} as const

/** The first stage of a hold under suction. */
export const drawDownWords = { title: 'Draw-down', now: 'Drawing down' } as const

export const findings = ['dry', 'stain', 'seep', 'bubbles', 'drip'] as const
export const actions = ['retighten', 'remake', 'reseal', 'replace'] as const

export const kindWords: Readonly<Record<string, string>> = {
  flare: 'flare',
  'pipe-thread': 'pipe thread',
  'hose-end': 'hose end',
  'drain-valve': 'drain valve',
  'sender-gasket': 'sender gasket',
  cap: 'cap',
  clamp: 'clamp',
  other: 'joint',
}

export const recordKindWords: Readonly<Record<string, string>> = {
  hold: 'hold',
  wet: 'wet stage',
  level: 'level sender',
  flow: 'flow check',
  work: 'work',
  plug: 'plug',
  correction: 'correction',
  acceptance: 'acceptance',
}
