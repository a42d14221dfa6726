import { mkdirSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import type { BrowserContext, Page } from 'playwright-core'
import { build } from 'vite'
import { shownUnits } from '#analysis/physics/unit-table.ts'
import { catalogue, type LanguageFile } from '#dashboard/catalogue.ts'
import { pageFolder } from './build-page.ts'

/** The page in the pseudo-language. */
export const pseudoFolder = join(pageFolder, '../web-pseudo')

const plain = 'abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ'
const accents = [...'áƀçđéƒĝĥíĵķĺɱñóþʠŕśťúṽŵẋýźÁƁÇĐÉƑĜĤÍĴĶĹḾÑÓÞɊŔŚŤÚṼŴẊÝŹ']

/** A message in the pseudo-language: each letter has an accent, so that a text without them was built in place. */
export const accented = (english: string): string =>
  english.replace(/\{\d+\}|<\/?\d+>|[a-zA-Z]/g, (one) => accents[plain.indexOf(one)] ?? one)

/** Builds the page as a translator would, from a language file with every message of the catalogue. */
export async function buildPseudoPage(): Promise<void> {
  const path = join(pageFolder, '../pseudo.json')
  const file: LanguageFile = {
    language: 'en-XA',
    messages: Object.fromEntries([...catalogue().keys()].map((english) => [english, accented(english)])),
  }
  mkdirSync(join(pageFolder, '..'), { recursive: true })
  writeFileSync(path, JSON.stringify(file))
  process.env['PAGE_LANGUAGE'] = path
  try {
    await build({
      configFile: fileURLToPath(new URL('../../vite.page.config.ts', import.meta.url)),
      logLevel: 'error',
      build: { outDir: pseudoFolder },
    })
  } finally {
    delete process.env['PAGE_LANGUAGE']
  }
}

/** Keys of the server's answers that hold names: of the system file, a recording, an operator. */
const names =
  'id name systemName section sections hold holds channel channels gauge valve valves record recording operator witness by measurement field material medium unit version code sha256 public_key known'
/** Keys of the server's answers that hold sentences worded by it, or written by an operator. */
const sentences =
  'message source title why text state action advice assumptions cautions stateSheet note error changed help says reason does'
/** Keys of texts worded by the server that the page shows alone: of the forms, the layouts and the looks. */
const whole = 'label about with description sees did'

interface Watched {
  readonly texts: Map<string, string>
  readonly given: Set<string>
  readonly alone: Set<string>
  /** Texts of the answers under other keys, with the key. */
  readonly other: Map<string, string>
  readonly translated: Set<string>
}

/** Collects each text that the page ever shows or draws, and each that the server gives it to show. */
export const watchTexts = (context: BrowserContext): Promise<unknown> =>
  context.addInitScript(
    ([names, sentences, whole]) => {
      const watched: Watched = {
        texts: new Map(),
        given: new Set(),
        alone: new Set(),
        other: new Map(),
        translated: new Set(),
      }
      Object.assign(window, { watched })
      const take = (value: unknown, key: string): void => {
        if (typeof value === 'string') {
          if (names.includes(key) || (sentences.includes(key) && value.includes(' ')))
            watched.given.add(value)
          else if (whole.includes(key)) watched.alone.add(value)
          else watched.other.set(value, key)
        } else if (Array.isArray(value)) for (const one of value) take(one, key)
        else if (value !== null && typeof value === 'object')
          for (const [name, one] of Object.entries(value)) take(one, name)
      }
      const parse = JSON.parse
      JSON.parse = (...given) => {
        const value = parse(...given)
        take(value, '')
        return value
      }
      const see = (text: string | null, where: string): void => {
        if (text !== null && /[a-zA-Z]{2}/.test(text)) watched.texts.set(text, where)
        if (text !== null && /[á-ź]{2}/.test(text)) watched.translated.add(text)
      }
      const seen = ['title', 'aria-label', 'aria-valuetext', 'placeholder', 'alt']
      const look = (node: Node): void => {
        if (node instanceof Text) {
          const { parentElement } = node
          if (!parentElement?.closest('[data-from]'))
            see(node.data, `${parentElement?.tagName}.${parentElement?.className}`)
        } else if (node instanceof Element && !/^(SCRIPT|STYLE|HEAD)$/.test(node.tagName)) {
          for (const name of seen)
            see(node.getAttribute(name), `${name} of ${node.tagName}.${node.getAttribute('class')}`)
          for (const child of node.childNodes) look(child)
        }
      }
      new MutationObserver((changes) => {
        for (const { target, addedNodes } of changes) {
          look(target)
          for (const node of addedNodes) look(node)
        }
      }).observe(document, {
        subtree: true,
        childList: true,
        characterData: true,
        attributes: true,
        attributeFilter: seen,
      })
      const { fillText } = CanvasRenderingContext2D.prototype
      CanvasRenderingContext2D.prototype.fillText = function (...given) {
        see(given[0], 'canvas')
        return fillText.apply(this, given)
      }
    },
    [names.split(' '), sentences.split(' '), whole.split(' ')],
  )

const symbols = Object.values(shownUnits).flatMap((units) => units.map(({ symbol }) => symbol))
/** What stands in every language: units, formats of files, publishers of rules, the name of the program. */
const everywhere = new Set([
  ...symbols.flatMap((one) => one.split(/[^a-zA-Z]+/)),
  ...'scc min mL Hz UTC CSV JSON PDF CFR ASTM Stillhold'.split(' '),
])

/** A text without a name, where it is not a piece of a longer word. */
const without = (text: string, name: string): string =>
  text.includes(name)
    ? text.replace(
        new RegExp(`(?<!\\p{L})${name.replace(/[\\^$.*+?()[\]{}|]/g, '\\$&')}(?!\\p{L})`, 'gu'),
        ' ',
      )
    : text

/** Texts that the page has shown with a word that is neither translated nor given by the file or the server. */
export async function inPlace(page: Page): Promise<string[]> {
  const { texts, given, alone, other } = await page.evaluate(() => {
    const { watched } = window as unknown as { watched: Watched }
    const { texts, given, alone, other } = watched
    return { texts: [...texts], given: [...given], alone: [...alone], other: [...other] }
  })
  const names = given.filter((one) => /[a-zA-Z]{2}/.test(one)).sort((a, b) => b.length - a.length)
  return texts.flatMap(([text, where]) => {
    if (alone.includes(text)) return []
    const rest = names.reduce(without, text)
    const words = rest.match(/(?<!\p{L})[a-zA-Z]{2,}(?!\p{L})/gu) ?? []
    if (words.every((word) => everywhere.has(word))) return []
    const keys = other.filter(([value]) => words.some((word) => value.includes(word))).map(([, key]) => key)
    return [`${text} (${where}; keys of answers: ${[...new Set(keys)].join(' ')})`]
  })
}

/** How many different translated texts the page has shown. */
export const translatedCount = (page: Page): Promise<number> =>
  page.evaluate(() => (window as unknown as { watched: Watched }).watched.translated.size)
