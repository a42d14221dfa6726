// biome-ignore-all lint/suspicious/noTemplateCurlyInString: sources are tested, with their templates.
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { dirname, join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { catalogue, languageFile, type Translation, translated } from '#dashboard/catalogue.ts'

/** The source in a made-up language that has these messages. */
const inWords = (source: string, messages: Readonly<Record<string, Translation>>): string =>
  translated('page.tsx', source, { code: 'xx', of: (english) => messages[english] })

/** The messages of a source. */
function englishOf(source: string): string[] {
  const found: string[] = []
  translated('page.tsx', source, {
    code: 'en',
    of(english) {
      found.push(english)
      return english
    },
  })
  return found
}

describe('the messages of a source', () => {
  it('are the marked texts, the texts of elements and the attributes that a reader sees', () => {
    expect(
      englishOf(
        'const a = t`Hold ${s} s longer`; const b = <p class="soft" title="Note">Single keys <b>can be</b> {off}</p>; const c = `not ${marked}`',
      ),
    ).toEqual(['Hold {0} s longer', 'Single keys <0>can be</0> {1}', 'Note'])
  })

  it('have the blanks that the page shows', () => {
    expect(englishOf('<p>\n  One {two}\n  three{" "}\n  <Term />\n</p>')).toEqual(['One {0}three {1}'])
  })

  it('leave the blanks around a text outside', () => {
    expect(englishOf('<i> done</i>')).toEqual(['done'])
    expect(inWords('<i> done</i>', { done: 'fini' })).toBe('<i>{" fini"}</i>')
  })
})

describe('a source in another language', () => {
  it('has the translations with the same values, in the order of the language', () => {
    expect(
      inWords('t`Hold ${seconds} s of ${t`line`}`', { 'Hold {0} s of {1}': '{1}: {0} s', line: 'linja' }),
    ).toBe('`${`linja`}: ${seconds} s`')
    expect(
      inWords('<p>Keys <b class="x">can</b> go {off}.</p>', { 'Keys <0>can</0> go {1}.': '{1} <0>Ken</0>!' }),
    ).toBe('<p>{off}{" "}<b class="x">{"Ken"}</b>{"!"}</p>')
  })

  it('keeps the English of a message without a translation, without its mark', () => {
    expect(inWords('const a = t`One ${two}`\n', {})).toBe('const a = `One ${two}`\n')
  })

  it('has as many plural forms as the language', () => {
    expect(
      inWords('plural(n, { one: t`${n} mark`, other: t`${n} marks` })', {
        '{0} marks': { one: '{0} xa', few: '{0} xe', other: '{0} xo' },
      }),
    ).toBe('plural(n, { one: `${n} xa`, few: `${n} xe`, other: `${n} xo` })')
  })

  it('refuses a translation that lost a value', () => {
    expect(() => inWords('t`Hold ${s} s`', { 'Hold {0} s': 'Tene' })).toThrow(/other places/)
  })

  it('escapes what would end the text', () => {
    const source = inWords('t`a`', { a: 'back` ${quoted} \\ "' })
    // biome-ignore lint/security/noGlobalEval: the source is made here.
    expect(eval(source)).toBe('back` ${quoted} \\ "')
  })
})

describe('the catalogue', () => {
  it('has the texts of the page, of reasons and of the glossary, with their files and plurals', () => {
    const found = catalogue()
    const filesOf = (english: string) => [...(found.get(english)?.files ?? [])]
    expect(filesOf('Give this hold up')).toEqual(['dashboard/web/hold/stage-controls.tsx'])
    expect(filesOf('connect a barometer, or one with finer steps')).toEqual([
      'analysis/reasons/bench-words.ts',
    ])
    expect(filesOf('Opening the bench…')).toEqual(['dashboard/web/index.html'])
    expect(filesOf('vent')).toContain('docs/glossary.md')
    expect(found.get('{0} marks wait on this device')?.isPlural).toBe(true)
  })

  it('is filled by a file: what is empty in it stays English', () => {
    const path = join(mkdtempSync(join(tmpdir(), 'stillhold-words-')), 'xx.json')
    const messages = { Hold: 'Tena', Vent: '', '{0} marks': { one: '', other: '' } }
    writeFileSync(path, JSON.stringify({ language: 'xx', messages }))
    const { code, of } = languageFile(path)
    rmSync(dirname(path), { recursive: true })
    expect([code, of('Hold'), of('Vent'), of('{0} marks'), of('never seen')]).toEqual([
      'xx',
      'Tena',
      undefined,
      undefined,
      undefined,
    ])
  })
})
