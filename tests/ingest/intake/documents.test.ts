import { readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import { dialectNames } from '#ingest/intake/dialects/dialect.ts'
import { Intake } from '#ingest/intake/intake.ts'
import { readSystemFile } from '#ingest/system-file/read-system-file.ts'
import { Heard } from '#tests/ingest/sources/heard.ts'

const page = (name: string) => readFileSync(new URL(`../../../docs/loggers/${name}`, import.meta.url), 'utf8')

/** Rows of the table of dialects: name, examples of first lines, the point they become. */
function rows(): { name: string; example: string; point: string }[] {
  const found: { name: string; example: string; point: string }[] = []
  let name = ''
  for (const line of page('dialects.md').split('\n')) {
    const [, first, second, third] = line.split('|').map((cell) => cell.trim())
    const point = /^`((?:logger|bench)[ ,].*)`$|^(the same), its own/.exec(third ?? '')
    if (first === undefined || point === null) continue
    name = /`([\w-]+)`/.exec(first)?.[1] ?? name
    const lines = [...second.matchAll(/`([^`]{2,})`/g)].map((match) => match[1])
    const examples = second.includes('then') ? [lines.slice(0, 2).join('\n')] : lines
    for (const example of examples) found.push({ name, example, point: point[1] ?? example })
  }
  return found
}

describe('docs/loggers/dialects.md', () => {
  test('names every dialect', () => {
    expect([...new Set(rows().map(({ name }) => name))]).toEqual(dialectNames)
  })
  test.each(rows())('$name: $example becomes what the page says', ({ name, example, point }) => {
    const heard = new Heard()
    const chosen = name === 'number-decimal-comma' ? name : null
    const intake = new Intake({ port: 'bench', sink: heard, dialect: chosen })
    const arrival = { wallNs: 1767225600000000000n, monotonicNs: 0n }
    intake.opened(arrival)
    const last = example.split('\n').at(-1)
    intake.bytes(Buffer.from(`${example}\n${last}\n`), arrival)
    const [first] = heard.points
    expect(first === point || first?.startsWith(`${point} `)).toBe(true)
    expect(intake.state(0n).dialect?.split(':')[0]).toBe(name)
  })
})

describe('docs/loggers/README.md', () => {
  test('its channels are valid in a system file', () => {
    const channels = /```yaml\n(channels:[\s\S]*?)```/.exec(page('README.md'))?.[1] ?? ''
    const rest = 'stillhold: 1\nname: bench\nsections:\n  - { id: left-feed, medium: air, volume: 0.35 L }\n'
    const { system, errors } = readSystemFile(`${rest}${channels}`, 'README.md')
    expect(errors).toEqual([])
    expect(system?.channels.map(({ scale }) => scale?.kind)).toEqual(['ratiometric', 'ntc'])
  })
  test.each([...page('README.md').matchAll(/`scale: (\{.*?\})`/g)].map((match) => match[1]))(
    'the scale %s is valid',
    (scale) => {
      const measures = scale.includes('pt:') ? 'temperature' : 'gauge-pressure'
      const text = `stillhold: 1
name: bench
sections:
  - { id: left-feed, medium: air, volume: 0.35 L }
channels:
  - { id: c, measures: ${measures}, section: left-feed, from: { measurement: logger, field: c }, unit: ${measures === 'temperature' ? 'degC' : 'psi'}, scale: ${scale} }
`
      expect(readSystemFile(text, 'README.md').errors).toEqual([])
    },
  )
})
