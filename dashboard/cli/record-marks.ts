import type { HoldSpec } from '#analysis/model/system.ts'
import { parseQuantity } from '#analysis/physics/quantity.ts'

/** A mark as typed by a person, before it has a time. */
export interface TypedMark {
  readonly kind: 'stage' | 'valve' | 'work' | 'look' | 'place' | 'note'
  readonly id?: string
  readonly hold?: string
  readonly fields: Readonly<Record<string, string | number | boolean>>
}

export type TypedLine =
  | { readonly kind: 'mark'; readonly mark: TypedMark }
  | { readonly kind: 'quit' }
  /** Not understood; the message lists the valid forms. */
  | { readonly kind: 'wrong'; readonly message: string }

type StageName = 'pump-up' | 'settle' | 'hold' | 'vent' | 'end'

const stages: Readonly<Record<string, StageName>> = {
  p: 'pump-up',
  s: 'settle',
  h: 'hold',
  v: 'vent',
  e: 'end',
  'pump-up': 'pump-up',
  settle: 'settle',
  hold: 'hold',
  vent: 'vent',
  end: 'end',
}
const actions = ['retighten', 'remake', 'reseal', 'replace']
const findings = ['dry', 'stain', 'seep', 'bubbles', 'drip']

export const typedMarkHelp = [
  'p pump-up   s settle   h hold   v vent   e end   q stop recording',
  `valve V2 open|shut    look F07 ${findings.join('|')}`,
  `work F07 ${actions.join('|')} [torque in N·m]    place GAUGE SECTION    note TEXT`,
].join('\n')

export function stageMark(name: StageName, hold: string | null): TypedMark {
  return { kind: 'stage', ...(hold === null ? {} : { hold }), fields: { name } }
}

/** Reads a line typed while recording. `hold` names the hold in stage marks. */
export function readTypedMark(line: string, hold: string | null): TypedLine {
  const text = line.trim()
  const [word = '', id, what, more, ...rest] = text.split(/\s+/)
  if (text === '?' || text === 'help') return { kind: 'wrong', message: typedMarkHelp }
  const stage = Object.hasOwn(stages, word) ? stages[word] : undefined
  if (stage !== undefined && id === undefined) return { kind: 'mark', mark: stageMark(stage, hold) }
  if ((word === 'q' || word === 'quit') && id === undefined) return { kind: 'quit' }
  if (word === 'note' && id !== undefined)
    return { kind: 'mark', mark: { kind: 'note', fields: { text: text.slice(4).trim() } } }
  if (rest.length === 0 && id !== undefined && what !== undefined) {
    if (word === 'valve' && more === undefined && (what === 'open' || what === 'shut'))
      return marked('valve', id, { open: what === 'open' })
    if (word === 'place' && more === undefined) return marked('place', id, { section: what })
    if (word === 'look' && more === undefined && findings.includes(what))
      return marked('look', id, { finding: what })
    const torqueNm = more === undefined ? null : Number(more)
    if (word === 'work' && actions.includes(what) && (torqueNm === null || torqueNm > 0))
      return marked('work', id, torqueNm === null ? { action: what } : { action: what, torque_Nm: torqueNm })
  }
  return { kind: 'wrong', message: `"${text}" is no mark. Type one of:\n${typedMarkHelp}` }
}

function marked(kind: TypedMark['kind'], id: string, fields: TypedMark['fields']): TypedLine {
  return { kind: 'mark', mark: { kind, id, fields } }
}

/** A planned stage and its time: nanoseconds after the first sample. */
export interface PlannedStage {
  readonly name: StageName
  readonly afterNs: bigint
}

const order = ['pump-up', 'settle', 'hold', 'vent'] as const
const defaultS: Readonly<Record<string, number>> = { vent: 30 }

/**
 * Reads `pump-up=30s,settle=2min,hold=10min,vent=30s`: the length of each stage. Settle and hold default to the
 * system file's hold, vent to 30 s; an omitted pump-up has no length.
 *
 * @throws Error with one plain sentence
 */
export function readPlannedStages(text: string, spec: HoldSpec | null): readonly PlannedStage[] {
  const lengths = new Map<string, number>()
  for (const part of text.split(',').map((each) => each.trim())) {
    const [name = '', length, ...more] = part.split('=').map((each) => each.trim())
    if (!order.some((each) => each === name) || length === undefined || more.length > 0)
      throw new Error(`--mark-stages ${part}: write stage=length of ${order.join(', ')}, such as settle=2min`)
    const seconds = parseQuantity(length, 'time')
    if ('fault' in seconds) throw new Error(`--mark-stages ${name}: ${seconds.fault}`)
    if (!(seconds.value > 0)) throw new Error(`--mark-stages ${name}: must last longer than nothing`)
    if (lengths.has(name)) throw new Error(`--mark-stages: ${name} is given twice`)
    lengths.set(name, seconds.value)
  }
  if (spec !== null) {
    if (!lengths.has('settle')) lengths.set('settle', spec.settleS)
    if (!lengths.has('hold')) lengths.set('hold', spec.holdS)
  }
  if (!lengths.has('hold'))
    throw new Error(
      '--mark-stages: the length of the hold is missing; add hold=10min, or --system and --hold',
    )
  const planned: PlannedStage[] = []
  let afterS = 0
  for (const name of order) {
    const seconds = lengths.get(name) ?? defaultS[name]
    if (seconds === undefined) continue
    planned.push({ name, afterNs: BigInt(Math.round(afterS * 1e9)) })
    afterS += seconds
  }
  planned.push({ name: 'end', afterNs: BigInt(Math.round(afterS * 1e9)) })
  return planned
}
