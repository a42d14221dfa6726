import { catalogue, type LanguageFile } from '#dashboard/catalogue.ts'

/** `npm run catalogue > xx.json`: a file for a translator to fill, for `PAGE_LANGUAGE=xx.json npm run build`. */
const found = [...catalogue()]
const file: LanguageFile & { readonly files: Readonly<Record<string, readonly string[]>> } = {
  language: 'xx',
  messages: Object.fromEntries(
    found.map(([english, { isPlural }]) => [english, isPlural ? { one: '', other: '' } : '']),
  ),
  files: Object.fromEntries(found.map(([english, { files }]) => [english, [...files]])),
}
process.stdout.write(`${JSON.stringify(file, null, 2)}\n`)
