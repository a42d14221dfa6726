import type { Verdict } from '#analysis/model/hold-result.ts'
import { t } from '#analysis/reasons/language.ts'

export const verdictWords: Readonly<Record<Verdict, { word: string; meaning: string }>> = {
  pass: { word: t`Pass`, meaning: t`The leak is below the allowance, at least 95 times in 100.` },
  fail: { word: t`Fail`, meaning: t`The leak is above the allowance.` },
  undecided: { word: t`Undecided`, meaning: t`The data cannot tell yet.` },
  void: { word: t`Void`, meaning: t`The data prove nothing.` },
}

export type ProofState = 'proven' | 'stale' | 'failed' | 'never-held'

export const proofWords: Readonly<Record<ProofState, string>> = {
  proven: t`proven`,
  stale: t`stale`,
  failed: t`failed`,
  'never-held': t`never held`,
}

export const stateWords: Readonly<Record<Verdict | ProofState, string>> = {
  ...proofWords,
  pass: verdictWords.pass.word,
  fail: verdictWords.fail.word,
  undecided: verdictWords.undecided.word,
  void: verdictWords.void.word,
}

export const stageOrder = ['pump-up', 'settle', 'hold', 'vent'] as const

export const stageWords = {
  'pump-up': { title: t`Pump-up`, now: t`Pumping up` },
  settle: { title: t`Settle`, now: t`Settling` },
  hold: { title: t`Hold`, now: t`Holding` },
  vent: { title: t`Vent`, now: t`Venting` },
} as const

/** The first stage of a hold under suction. */
export const drawDownWords = { title: t`Draw-down`, now: t`Drawing down` } as const

const findingWords = {
  dry: t`dry`,
  stain: t`stain`,
  seep: t`seep`,
  bubbles: t`bubbles`,
  drip: t`drip`,
} as const
const actionWords = {
  retighten: t`retighten`,
  remake: t`remake`,
  reseal: t`reseal`,
  replace: t`replace`,
} as const
export type Finding = keyof typeof findingWords
export type Action = keyof typeof actionWords
export const findings = Object.entries(findingWords) as [Finding, string][]
export const actions = Object.entries(actionWords) as [Action, string][]

const wordsOfMarks: Readonly<Record<string, string>> = {
  ...findingWords,
  ...actionWords,
  'pump-up': t`pump-up`,
  settle: t`settle`,
  hold: t`hold`,
  vent: t`vent`,
  end: t`end`,
  opened: t`opened`,
  shut: t`shut`,
  in: t`in`,
  out: t`out`,
  stage: t`stage`,
  look: t`look`,
  work: t`work`,
  valve: t`valve`,
  plug: t`plug`,
  check: t`check`,
  stroke: t`stroke`,
  supply: t`supply`,
  zero: t`zero`,
  place: t`place`,
  photo: t`photo`,
  fault: t`fault`,
  gap: t`gap`,
  clock: t`clock`,
  origin: t`origin`,
  correction: t`correction`,
}

/** The kind or the text of a mark that the program wrote; an operator's text stays as it is. */
export const markWord = (text: string): string => wordsOfMarks[text] ?? text

const wordsOfSheets: Readonly<Record<string, string>> = {
  ...findingWords,
  ...actionWords,
  avgas: t`avgas`,
  mogas: t`mogas`,
  'jet-a': t`jet-a`,
  gravity: t`gravity`,
  pump: t`pump`,
  level: t`level`,
  ground: t`ground`,
  higher: t`higher`,
  lower: t`lower`,
  up: t`up`,
  down: t`down`,
  unusable: t`unusable`,
  lubricated: t`lubricated`,
  crosswise: t`crosswise`,
  star: t`star`,
  around: t`around`,
  'wiped-dry': t`wiped dry`,
  paper: t`paper`,
  talc: t`talc`,
  'lamp-and-mirror': t`lamp and mirror`,
  dye: t`dye`,
  touch: t`touch`,
}

/** A word of a sheet of the fuel work; a rule's name stays as it is. */
export const sheetWord = (word: string): string => wordsOfSheets[word] ?? word

/** Options of a sheet with their words. */
export const sheetWords = (words: readonly string[]) => words.map((one) => [one, sheetWord(one)] as const)

export const onOrOff = [
  ['on', t`on`],
  ['off', t`off`],
] as const

export const kindWords: Readonly<Record<string, string>> = {
  flare: t`flare`,
  'pipe-thread': t`pipe thread`,
  'hose-end': t`hose end`,
  'drain-valve': t`drain valve`,
  'sender-gasket': t`sender gasket`,
  cap: t`cap`,
  clamp: t`clamp`,
  other: t`joint`,
}

export const recordKindWords: Readonly<Record<string, string>> = {
  hold: t`hold`,
  wet: t`wet stage`,
  level: t`level sender`,
  flow: t`flow check`,
  work: t`work`,
  plug: t`plug`,
  correction: t`correction`,
  acceptance: t`acceptance`,
}
