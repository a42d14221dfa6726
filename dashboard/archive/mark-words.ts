import type { Mark } from '#analysis/model/samples.ts'

/** Prefix of the controller's note on the checks before the pump-up. */
export const sheetPrefix = 'checked: '

/** Short words for faults on the chart; the recording has the full text. */
const faultWords: Readonly<Record<string, string>> = {
  unplugged: 'logger unplugged',
  silent: 'logger silent',
  'open-failed': 'logger gone',
  'logger-reset': 'logger restarted',
  interrupted: 'broken off',
  'pressure-lost': 'pressure lost',
}

/** A short label of a mark. */
export function textOf({ kind, fields }: Mark): string {
  const { name, text, finding, action, open, code, seconds } = fields
  if (kind === 'fault' && typeof code === 'string') return faultWords[code] ?? code.replaceAll('-', ' ')
  if (kind === 'gap' && typeof seconds === 'number')
    return `nothing for ${seconds < 10 ? seconds.toFixed(1) : Math.round(seconds)} s`
  if (kind === 'clock') return 'clock wrong'
  if (kind === 'note' && typeof text === 'string' && text.startsWith(sheetPrefix)) return 'state sheet'
  if (typeof text === 'string') return text
  if (kind === 'place') return `on ${fields.section}`
  if (kind === 'supply') return name === 'off' ? 'supply off' : `supply ${name}`
  if (typeof name === 'string') return name
  if (typeof finding === 'string') return finding
  if (typeof action === 'string')
    return typeof fields.torque_Nm === 'number' ? `${action}, ${fields.torque_Nm} N·m` : action
  if ((kind === 'valve' || kind === 'check') && typeof open === 'boolean') return open ? 'opened' : 'shut'
  return Object.entries(fields)
    .map(([key, value]) => `${key} ${value}`)
    .join(', ')
}
