import { findings } from '#analysis/hunt/look-likelihood.ts'
import type { Dimension } from '#analysis/physics/units.ts'

/** Lists of the system file that supply the words of a named entry. */
export type SheetNames = 'sections' | 'fittings' | 'senders'

/** One entry of a sheet: its key in the file, its label on page and paper, and its type. */
export type SheetField = {
  readonly label: string
  readonly required?: true
  /** Shown on the page only where another entry has one of these values. */
  readonly when?: readonly [key: string, ...values: string[]]
} & (
  | { readonly is: 'text' | 'texts' | 'number' | 'flag' | 'day' | 'instant' }
  | { readonly is: 'word'; readonly words: readonly string[] }
  | { readonly is: 'named'; readonly from: SheetNames }
  | { readonly is: 'quantity'; readonly of: Dimension; readonly positive?: true }
  | { readonly is: 'range'; readonly of: Dimension }
)

export type SheetFields = Readonly<Record<string, SheetField>>

const quantity = <D extends Dimension, M extends object>(label: string, of: D, more: M = {} as M) =>
  ({ label, is: 'quantity', of, ...more }) as const

export const fuelWords = ['avgas', 'mogas', 'jet-a'] as const
/** Editions of the rule on fuel flow: the figures of the first were read, those of the second were not. */
const flowRules = ['14 CFR 23.955', 'ASTM F3063'] as const

export const flowFields = {
  fuel: { label: 'Fuel', is: 'word', words: fuelWords, required: true },
  'take-off-flow': quantity('Take-off flow of the engine, such as 38 L/h ± 0.5 L/h', 'volume-flow', {
    positive: true,
    required: true,
  }),
  'take-off-flow-source': { label: 'Source of that flow', is: 'text' },
  rules: { label: 'Rules', is: 'word', words: flowRules },
  pumps: { label: 'Main and emergency pumps by name, or none', is: 'texts' },
  'climb-attitude': { label: 'Steepest climb, nose up °', is: 'number' },
  'climb-margin': { label: 'Margin on top of it °', is: 'number' },
  'inlet-limits': {
    label: 'Fuel pressure the engine accepts, such as 2 psi to 8 psi',
    is: 'range',
    of: 'pressure',
  },
  'inlet-limits-source': { label: 'Source of those limits', is: 'text' },
  density: quantity('Measured density, such as 0.716 kg/L ± 0.3 %', 'density'),
  'density-at': quantity('Temperature of that density', 'temperature'),
} as const satisfies SheetFields

export const flowRunFields = {
  tank: { label: 'Tank', is: 'named', from: 'sections', required: true },
  feed: { label: 'Feed', is: 'word', words: ['gravity', 'pump'], required: true },
  pump: { label: 'Which pump; all for every pump together', is: 'text', when: ['feed', 'pump'] },
  weighed: quantity('Weighed', 'mass', { positive: true }),
  measured: quantity('or measured', 'volume', { positive: true }),
  channel: { label: 'or read by the flow channel', is: 'text' },
  recording: { label: 'in the recording', is: 'text', when: ['channel'] },
  from: { label: 'from, s', is: 'number', when: ['channel'] },
  to: { label: 'to, s', is: 'number', when: ['channel'] },
  time: quantity('In the time', 'time', { positive: true }),
  temperature: quantity('Temperature of the fuel', 'temperature', { required: true }),
  attitude: { label: 'Nose up in this run °', is: 'number' },
  'in-tank': quantity('Fuel in the tank at the start', 'volume'),
  'lowest-head': { label: 'or: only unusable fuel and what the run needs', is: 'flag' },
  outlet: {
    label: 'Outlet relative to the engine inlet',
    is: 'word',
    words: ['level', 'higher', 'lower'],
  },
  'inlet-pressure': quantity('Pressure at the engine inlet', 'pressure', { when: ['feed', 'pump'] }),
} as const satisfies SheetFields

/** An omitted run, with its reason; without tank or pump it covers all of them. */
export const flowOmittedFields = {
  tank: { label: 'Tank', is: 'named', from: 'sections' },
  pump: { label: 'Pump', is: 'text' },
  why: { label: 'Why it is not run', is: 'text', required: true },
} as const satisfies SheetFields

export const workFields = {
  fitting: { label: 'Fitting', is: 'named', from: 'fittings', required: true },
  action: { label: 'Work', is: 'word', words: ['retighten', 'remake', 'reseal', 'replace'], required: true },
  torque: quantity('Torque as the wrench reads, such as 112 in·lb ± 4 %', 'torque', { positive: true }),
  threads: { label: 'Threads', is: 'word', words: ['lubricated', 'dry'] },
  'run-on': quantity('Run-on torque of a self-locking nut', 'torque'),
  turn: { label: 'or set by turn, the maker’s words', is: 'text' },
  bolts: { label: 'Screws of a flange or cap ring', is: 'number' },
  passes: { label: 'Passes', is: 'number', when: ['bolts'] },
  sequence: { label: 'Sequence', is: 'word', words: ['crosswise', 'star', 'around'], when: ['bolts'] },
  sealant: { label: 'Sealant', is: 'text' },
  cure: quantity('Its cure time, such as 24 h; 0 h if it does not cure', 'time'),
  range: { label: 'Maker’s range, if other', is: 'range', of: 'torque' },
  'range-source': { label: 'Source of that range', is: 'text' },
  tool: { label: 'Torque wrench', is: 'text' },
  calibrated: { label: 'Calibrated on', is: 'day' },
  due: { label: 'Next due', is: 'day' },
  by: { label: 'Done by', is: 'text', required: true },
  at: { label: 'When', is: 'instant', required: true },
  'witness-mark': { label: 'A witness mark (torque seal) runs across nut and body', is: 'flag' },
} as const satisfies SheetFields

const unusableFields = {
  'unusable-found': quantity('Unusable fuel found, such as 2.3 L ± 0.1 L', 'volume', { positive: true }),
  'unusable-how': { label: 'How it was found', is: 'text', when: ['unusable-found'] },
} as const satisfies SheetFields

export const levelSenderFields = {
  channel: { label: 'Sender', is: 'named', from: 'senders', required: true },
  ...unusableFields,
} as const satisfies SheetFields

/** For a gauge without a logger on its sender. */
export const levelPanelFields = {
  section: { label: 'Tank', is: 'named', from: 'sections', required: true },
  unit: { label: 'Unit that the panel shows', is: 'text', required: true },
  'reading-step': { label: 'Smallest step that the panel shows', is: 'number', required: true },
  ...unusableFields,
} as const satisfies SheetFields

/** A point of a level calibration typed from the panel: a fill mark and the gauge reading after it. */
export const levelPointFields = {
  reading: { label: 'The panel shows', is: 'number' },
  volume: { label: 'Amount with its tolerance, such as 5 L ± 0.5 %', is: 'text' },
  direction: { label: 'Fuel is added (up) or drained (down)', is: 'word', words: ['up', 'down'] },
  attitude: { label: 'Aircraft stands', is: 'word', words: ['level', 'ground'] },
  start: { label: 'Starts at', is: 'word', words: ['unusable', 'dry'] },
  total: { label: 'Total by pump or scale, if known', is: 'text' },
  full: { label: 'Full to the filler', is: 'flag' },
} as const satisfies SheetFields

export const lookFields = {
  fitting: { label: 'Joint', is: 'named', from: 'fittings', required: true },
  finding: { label: 'Finding', is: 'word', words: findings, required: true },
  at: { label: 'At', is: 'text' },
  after: quantity('or after', 'time'),
  by: { label: 'By', is: 'text' },
  stamped: { label: 'Stamped by the server', is: 'flag' },
  spread: quantity('Width of the spot', 'length'),
  'since-wipe': quantity('Time since it was wiped', 'time'),
  head: quantity('Height of the fuel above it', 'length'),
  withdrawn: { label: 'Withdrawn because', is: 'text' },
} as const satisfies SheetFields

/** The forms that the page requests from the server. */
export const sheetForms = {
  flow: flowFields,
  flowRun: flowRunFields,
  flowOmitted: flowOmittedFields,
  work: workFields,
  levelSender: levelSenderFields,
  levelPanel: levelPanelFields,
  levelPoint: levelPointFields,
} as const
export type SheetForms = { readonly [form in keyof typeof sheetForms]: SheetFields }
