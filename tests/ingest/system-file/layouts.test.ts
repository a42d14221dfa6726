import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { parse } from 'yaml'
import { holdCoverage, systemProblems } from '#analysis/model/system-graph.ts'
import type { JsonSchema } from '#ingest/system-file/description.ts'
import { firstSystemFile, type Instruments, instruments, layouts } from '#ingest/system-file/layouts.ts'
import { readSystemFile, systemFromFile, systemSchema } from '#ingest/system-file/read-system-file.ts'
import { root } from '#tests/house/source-files.ts'

/** Paths at which a value violates the schema, for the keywords of JSON Schema in use. */
function misfits(value: unknown, schema: JsonSchema, at = ''): string[] {
  const is = {
    array: Array.isArray(value),
    object: value !== null && typeof value === 'object' && !Array.isArray(value),
  }
  const type = is.array ? 'array' : is.object ? 'object' : typeof value
  const fits = schema.type === undefined || [schema.type].flat().includes(type)
  if (
    !fits ||
    ('const' in schema && schema.const !== value) ||
    (schema.enum && !schema.enum.includes(value as string))
  )
    return [at]
  if (is.array) {
    const all = value as unknown[]
    if (all.length < (schema.minItems ?? 0) || all.length > (schema.maxItems ?? all.length)) return [at]
    return all.flatMap((item, i) => misfits(item, schema.items ?? {}, `${at}/${i}`))
  }
  if (!is.object) return []
  const members = value as Record<string, unknown>
  const missing = (schema.required ?? []).filter((key) => !(key in members)).map((key) => `${at}/${key}`)
  return [
    ...missing,
    ...Object.entries(members).flatMap(([key, member]) => {
      const known = schema.properties?.[key] ?? schema.additionalProperties
      return known === false || known === undefined
        ? [`${at}/${key}`]
        : misfits(member, known, `${at}/${key}`)
    }),
  ]
}

describe('firstSystemFile(layout, name, instruments)', () => {
  const all = layouts.flatMap((layout) =>
    (Object.keys(instruments) as Instruments[]).map((kit) => ({ layout, kit, id: layout.id })),
  )

  it.each(all)(
    '$id with $kit is read without an error, and every hold closes its section and covers its fittings',
    ({ layout, kit }) => {
      const text = firstSystemFile(layout, 'two-seat floatplane', kit)
      const system = systemFromFile(text, 'aircraft.yaml')
      expect(system.name).toBe('two-seat floatplane')
      expect(system.holds.length).toBeGreaterThan(0)
      for (const hold of system.holds) expect(holdCoverage(system, hold).problems).toEqual([])
      expect(systemProblems(system)).toEqual([])
      expect(misfits(parse(text), systemSchema)).toEqual([])
    },
  )

  it('names the schema in its first line, marks its figures as placeholders, and quotes an unusual name', () => {
    const text = firstSystemFile(layouts[0], 'my "red": one', 'dial')
    expect(text).toMatch(/^# yaml-language-server: \$schema=\.\/system-file\.schema\.json\n/)
    expect(text).toContain('placeholder')
    expect(systemFromFile(text, 'x').name).toBe('my "red": one')
  })
})

describe('systemSchema', () => {
  const demo = readFileSync(join(root, 'recordings/floatplane.yaml'), 'utf8')

  it('docs/formats/system-file.schema.json is this schema (else: npm run docs)', () => {
    const published = readFileSync(join(root, 'docs/formats/system-file.schema.json'), 'utf8')
    expect(JSON.parse(published)).toEqual(systemSchema)
  })

  it('accepts the demo file, as the reader does, and refuses the same errors: an unknown key, a word, a missing part', () => {
    expect(misfits(parse(demo), systemSchema)).toEqual([])
    const wrong: readonly [string, string, string][] = [
      ['max-pressure', 'max-presure', '/sections/0/max-presure'],
      ['measures: gauge-pressure', 'measures: pressure', '/channels/0/measures'],
      ['medium: air', 'medium: helium', '/sections/0/medium'],
      ['    unit: psi\n', '    units: psi\n', '/channels/0/units'],
      ['stillhold: 1', 'stillhold: 2', '/stillhold'],
    ]
    for (const [good, bad, at] of wrong) {
      const text = demo.replace(good, bad)
      expect(readSystemFile(text, 'x').system).toBeNull()
      expect(misfits(parse(text), systemSchema)).toContain(at)
    }
  })
})
