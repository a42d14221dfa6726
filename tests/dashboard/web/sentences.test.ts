// biome-ignore-all lint/suspicious/noTemplateCurlyInString: a source is tested, with its templates.
import type { ESTree } from 'vite'
import { describe, expect, it } from 'vitest'
import { childrenOf, parsed } from '#dashboard/catalogue.ts'
import { filesBelow } from '#tests/house/source-files.ts'

/** Attributes whose text nobody reads. */
const unspoken = /^(class|d|key|style|href|viewBox|points|transform|id)$/
/** Two words with a blank between them, or a word with a capital. */
const looksSaid = /[A-Za-z]{2,}[’'a-z]*[,:;.…]? +[({]?[A-Za-z{]|^[A-Z][a-z]+/
/** A word beside a value, with a blank between them. */
const saysBeside = /\{\} [a-z]{2,}|[a-z]{3,}[,:;]? \{\}|\{\} a /
/** Texts for the browser, by their form: addresses, colors, selectors, fonts, the limits of a gauge in a file. */
const forMachines = /^(\/|--|\.|\[|#|\(prefers|\{\}px|\{\} \{\}px|dialog\[|0 \{\} to )/

/** Words of the program's own: a class, texts of marks in a recording, a unit without its point, a key. */
const ownWords = ['of-seal is-final', 'supply off', 'supply look', 'state sheet', 'Nm', 'Enter']

/** The texts of a source that look like words and stand outside the catalogue. */
function builtInPlace(path: string, code: string): string[] {
  const found: string[] = []
  const say = (text: string): void => {
    if (
      (looksSaid.test(text) || saysBeside.test(text)) &&
      !forMachines.test(text) &&
      !ownWords.includes(text)
    )
      found.push(`${path}: ${text}`)
  }
  const visit = (node: ESTree.Node): void => {
    if (/^(Import|TS(?!As|Satisfies|NonNull)|Export(All|Specifier))/.test(node.type)) return
    if (node.type === 'TaggedTemplateExpression') {
      for (const one of node.quasi.expressions) visit(one)
      return
    }
    if (node.type === 'JSXAttribute') {
      const name = node.name.type === 'JSXIdentifier' ? node.name.name : ''
      // A text here is in the catalogue, or nobody reads it; an expression may make a sentence.
      if (unspoken.test(name) || node.value?.type === 'Literal') return
    }
    // The name of a shape or of a set of shapes: classes of the style sheet.
    if (node.type === 'ArrayExpression' && /^'shape-/.test(code.slice(node.start + 1, node.end))) return
    if (node.type === 'Property') {
      visit(node.value)
      return
    }
    if (node.type === 'Literal' && typeof node.value === 'string') say(node.value)
    if (node.type === 'TemplateLiteral') say(node.quasis.map(({ value }) => value.cooked).join('{}'))
    for (const child of childrenOf(node)) visit(child)
  }
  visit(parsed(path, code))
  return found
}

describe('the sentences of the page', () => {
  it('are seen where they are built in place', () => {
    const source =
      "const a = `Hold ${s} longer`; const b = <p class='two words'>{late ? 'Too late' : t`Good ${way}`}</p>; const c = `${x} ${unit} a minute`"
    expect(builtInPlace('a.tsx', source)).toEqual([
      'a.tsx: Hold {} longer',
      'a.tsx: Too late',
      'a.tsx: {} {} a minute',
    ])
  })

  it('all are in the catalogue', () => {
    const sources = filesBelow('dashboard/web', '.ts', '.tsx')
    expect(sources.length).toBeGreaterThan(80)
    expect(sources.flatMap(({ path, text }) => builtInPlace(path, text))).toEqual([])
  })
})
