import { readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { type ESTree, type Plugin, parseSync } from 'vite'

/** A text of a message in another language, or its plural forms by the categories of `Intl.PluralRules`. */
export type Translation = string | Readonly<Record<string, string>>

/** A language that the page is built in. */
export interface Language {
  /** For `lang` and Intl. */
  readonly code: string
  /** The translation of an English message; undefined keeps the English. */
  readonly of: (english: string, isPlural?: boolean) => Translation | undefined
}

type Node = ESTree.Node
type Of<T extends Node['type']> = Extract<Node, { type: T }>

/** Attributes of elements and components whose text a reader sees or hears. */
const spokenAttributes = new Set(
  'title aria-label aria-valuetext data-label placeholder alt label legend words word stay go what caption of'.split(
    ' ',
  ),
)
/** Elements inside a sentence: their text belongs to its message, as `<0>text</0>`. */
const inline = /^(a|abbr|b|code|em|i|kbd|small|span|strong|sub|sup)$/

const isSpoken = ({ name }: Of<'JSXAttribute'>): boolean =>
  name.type === 'JSXIdentifier' && spokenAttributes.has(name.name)

const isNode = (value: unknown): value is Node =>
  typeof value === 'object' && value !== null && typeof (value as Node).type === 'string'

export const childrenOf = (node: Node): Node[] =>
  Object.values(node)
    .flat()
    .filter(isNode)
    .sort((a, b) => a.start - b.start)

/** The text that JSX makes of its source: line breaks with the blanks around them vanish or become one blank. */
const jsxText = (source: string): string =>
  source
    .split('\n')
    .map((line, i, lines) =>
      line.slice(i > 0 ? line.search(/\S|$/) : 0).replace(i < lines.length - 1 ? /\s+$/ : '', ''),
    )
    .filter((line) => line !== '')
    .join(' ')

export const parsed = (path: string, code: string): ESTree.Program =>
  parseSync(path, code, { lang: path.endsWith('x') ? 'tsx' : 'ts' }).program

type Element = Of<'JSXElement'> | Of<'JSXFragment'>

const isElement = (node: Node): node is Element => node.type === 'JSXElement' || node.type === 'JSXFragment'

/** Whether the children of an element are a message: they have a text with a letter, or a text around words in bold. */
function isMessage({ children }: Element): boolean {
  const texts = children.filter((one) => one.type === 'JSXText').map(({ value }) => value)
  if (texts.some((text) => /\p{L}/u.test(text))) return true
  return texts.some((text) => text.trim() !== '') && children.some(isInline)
}

const isInline = (node: Node): node is Of<'JSXElement'> =>
  node.type === 'JSXElement' &&
  node.openingElement.name.type === 'JSXIdentifier' &&
  inline.test(node.openingElement.name.name) &&
  isMessage(node)

/** The message of an element's children, and what stands at its places. */
function messageOf({ children }: Element, places: Node[] = []): { english: string; places: readonly Node[] } {
  let english = ''
  for (const child of children) {
    if (child.type === 'JSXText') english += jsxText(child.value)
    else if (child.type === 'JSXExpressionContainer' && child.expression.type === 'JSXEmptyExpression')
      continue
    else if (
      child.type === 'JSXExpressionContainer' &&
      child.expression.type === 'Literal' &&
      typeof child.expression.value === 'string'
    )
      english += child.expression.value
    else {
      const at = places.push(child) - 1
      english += isInline(child) ? `<${at}>${messageOf(child, places).english}</${at}>` : `{${at}}`
    }
  }
  return { english, places }
}

const isTag = (node: Node | undefined): node is Of<'TaggedTemplateExpression'> =>
  node?.type === 'TaggedTemplateExpression' && node.tag.type === 'Identifier' && node.tag.name === 't'

const templateText = ({ quasi }: Of<'TaggedTemplateExpression'>): string =>
  quasi.quasis.map(({ value }, i) => (i > 0 ? `{${i - 1}}` : '') + value.cooked).join('')

const token = /\{(\d+)\}|<(\d+)>|<\/(\d+)>/g

/** @throws Error when a translation lacks a place of its English, or has another */
function checkPlaces(english: string, translation: string): string {
  const placesOf = (text: string) => (text.match(token) ?? []).sort().join(' ')
  if (placesOf(english) !== placesOf(translation))
    throw new Error(`The translation of "${english}" has other places: "${translation}".`)
  return translation
}

/** A source of the page with its messages in another language; `language.of` is asked for each message in turn. */
export function translated(path: string, code: string, language: Language): string {
  const say = (english: string): Translation | undefined => {
    const [, before, core, after] = /^(\s*)(.*?)(\s*)$/s.exec(english)!
    const said = language.of(core)
    return typeof said === 'string' ? before + checkPlaces(core, said) + after : said
  }
  const text = (english: string): string | undefined => {
    const said = say(english)
    return typeof said === 'object' ? said['other'] : said
  }

  const asTemplate = (translation: string, places: readonly Node[]): string => {
    const parts = translation.split(token)
    let out = ''
    for (let i = 0; i < parts.length; i += 4) {
      out += parts[i].replace(/[\\`]|\$\{/g, '\\$&')
      if (parts[i + 1] !== undefined) out += `\${${render(places[Number(parts[i + 1])])}}`
    }
    return `\`${out}\``
  }

  const asChildren = (translation: string, places: readonly Node[]): string => {
    const element = (at: string) => places[Number(at)] as Of<'JSXElement'>
    const parts = translation.split(token)
    let out = ''
    for (let i = 0; i < parts.length; i += 4) {
      const [words, place, opened, closed] = parts.slice(i, i + 4)
      if (words !== '') out += `{${JSON.stringify(words)}}`
      if (place !== undefined) out += render(places[Number(place)])
      if (opened !== undefined) out += render(element(opened).openingElement)
      if (closed !== undefined) out += render(element(closed).closingElement!)
    }
    return out
  }

  /** `plural(n, { one: t`…`, other: t`…` })` with the forms of the translation. */
  const renderPlural = (node: Of<'CallExpression'>): string | null => {
    const [, forms] = node.arguments
    if (forms?.type !== 'ObjectExpression') return null
    const other = forms.properties
      .map((one) => (one.type === 'Property' ? one.value : undefined))
      .findLast((one) => isTag(one))
    if (!isTag(other)) return null
    const said = language.of(templateText(other), true)
    if (said === undefined) return null
    const each = Object.entries(typeof said === 'string' ? { other: said } : said)
    const body = each.map(([form, words]) => `${form}: ${asTemplate(words, other.quasi.expressions)}`)
    return `plural(${render(node.arguments[0])}, { ${body.join(', ')} })`
  }

  const rewritten = (node: Node): string | null => {
    if (isTag(node)) {
      const said = text(templateText(node))
      return said === undefined ? render(node.quasi) : asTemplate(said, node.quasi.expressions)
    }
    if (node.type === 'CallExpression' && node.callee.type === 'Identifier' && node.callee.name === 'plural')
      return renderPlural(node)
    if (node.type === 'JSXAttribute' && node.value?.type === 'Literal' && isSpoken(node)) {
      const said = text(String(node.value.value))
      return said === undefined
        ? null
        : `${code.slice(node.start, node.value.start)}{${JSON.stringify(said)}}`
    }
    if (isElement(node) && isMessage(node)) {
      const { english, places } = messageOf(node)
      const said = text(english)
      if (said === undefined) return null
      const [opening, closing] =
        node.type === 'JSXElement'
          ? [node.openingElement, node.closingElement!]
          : [node.openingFragment, node.closingFragment]
      return render(opening) + asChildren(said, places) + render(closing)
    }
    return null
  }

  const render = (node: Node): string => {
    const own = rewritten(node)
    return own ?? inPieces(node)
  }

  /** The source of a node with its children rewritten. */
  const inPieces = (node: Node): string => {
    let out = ''
    let at = node.start
    for (const child of childrenOf(node)) {
      // A shorthand property is its key and its value in the same place.
      if (child.start < at) continue
      out += code.slice(at, child.start) + render(child)
      at = child.end
    }
    return out + code.slice(at, node.end)
  }

  const program = parsed(path, code)
  return code.slice(0, program.start) + inPieces(program) + code.slice(program.end)
}

/** The rows of the glossary, which the page shows for a term. */
const glossaryRow = /^\| (?!term|---)(.+?) \| (.+?) \|$/gm
const markup = />([^<>]*\p{L}[^<>]*)</gu

/** A file of the page in a language: a source, the glossary, or the document that loads the page. */
function fileIn(path: string, text: string, language: Language): string {
  const say = (english: string): string => {
    const said = language.of(english)
    return typeof said === 'string' ? said : english
  }
  if (path.endsWith('.md'))
    return text.replace(
      glossaryRow,
      (_, term: string, meaning: string) => `| ${say(term)} | ${say(meaning)} |`,
    )
  if (path.endsWith('.html'))
    return text
      .replace('<html lang="en">', `<html lang="${language.code}">`)
      .replace(markup, (_, words: string) => `>${words.trim() === 'Stillhold' ? words : say(words)}<`)
  const named = text.replace("const language = 'en'", `const language = ${JSON.stringify(language.code)}`)
  return translated(path, named, language)
}

/** Builds the page in a language; in English only the marks of its messages go. */
export const pageIn = (language: Language): Plugin => ({
  name: 'page-in-a-language',
  enforce: 'pre',
  transform(code, id) {
    const [path, query] = id.split('?')
    if (path.endsWith('/docs/glossary.md') && query === 'raw')
      return code.replace(/(?<=^export default ).*$/m, (text) =>
        JSON.stringify(fileIn(path, JSON.parse(text), language)),
      )
    const isOurs = /\/(analysis|dashboard)\/.*\.tsx?$/.test(path)
    return isOurs ? { code: fileIn(path, code, language), map: null } : null
  },
  transformIndexHtml: (html) => fileIn('index.html', html, language),
})

/** The language of a translator's file; what it leaves empty stays English. */
export function languageFile(path: string | undefined): Language {
  if (path === undefined) return { code: 'en', of: () => undefined }
  const { language, messages } = JSON.parse(readFileSync(path, 'utf8')) as LanguageFile
  const of = (english: string): Translation | undefined => {
    const said = messages[english]
    return (typeof said === 'string' ? said : said?.['other']) ? said : undefined
  }
  return { code: language, of }
}

export interface LanguageFile {
  readonly language: string
  readonly messages: Readonly<Record<string, Translation>>
}

/** Every message of the page in the order of its files, with the files that have it. */
export function catalogue(): Map<string, { readonly isPlural: boolean; readonly files: Set<string> }> {
  const root = join(import.meta.dirname, '..')
  const found: ReturnType<typeof catalogue> = new Map()
  const sources = ['dashboard/web', 'analysis/reasons'].flatMap((folder) =>
    readdirSync(join(root, folder), { recursive: true, encoding: 'utf8' })
      .filter((name) => /\.(tsx?|html)$/.test(name))
      .sort()
      .map((name) => `${folder}/${name}`),
  )
  for (const file of [...sources, 'docs/glossary.md'])
    fileIn(file, readFileSync(join(root, file), 'utf8'), {
      code: 'en',
      of(english, isPlural = false) {
        const files = found.get(english)?.files ?? new Set()
        found.set(english, { isPlural, files: files.add(file) })
        return english
      },
    })
  return found
}
