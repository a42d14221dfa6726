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

const stages: Readonly<Record<string, string>> = {
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

/** Reads a line typed while recording. `hold` names the hold in stage marks. */
export function readTypedMark(line: string, hold: string | null): TypedLine {
  const text = line.trim()
  const [word = '', id, what, more, ...rest] = text.split(/\s+/)
  if (text === '?' || text === 'help') return { kind: 'wrong', message: typedMarkHelp }
  const stage = Object.hasOwn(stages, word) ? stages[word] : undefined
  if (stage !== undefined && id === undefined) {
    const mark = { kind: 'stage' as const, ...(hold === null ? {} : { hold }), fields: { name: stage } }
    return { kind: 'mark', mark }
  }
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
