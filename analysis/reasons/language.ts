/** The language of the texts. A build of the page in another language replaces this line and the texts marked by `t`. */
export const language = 'en'

/** Marks a text that a reader sees: its English is the key of the catalogue, with `{0}`, `{1}` for the values. */
export const t = (texts: TemplateStringsArray, ...values: readonly unknown[]): string =>
  String.raw({ raw: texts }, ...values)

const rules = new Intl.PluralRules(language)

/** The text for a count, by the plural rules of the language; a translation may have more forms than English. */
export const plural = (
  count: number,
  texts: Readonly<Partial<Record<Intl.LDMLPluralRule, string>> & { other: string }>,
): string => texts[rules.select(count)] ?? texts.other

const numbers = new Map<number, Intl.NumberFormat>()

/** A number with the decimal mark of the language: rounded to so many decimals, or in all its digits. */
export function inDigits(value: number, decimals?: number): string {
  // Rounded before, since Intl rounds the shortest decimal and not the value. Adding zero drops the sign of −0.
  const rounded = (decimals === undefined ? value : Number(value.toFixed(decimals))) + 0
  // Intl reads its data for tens of milliseconds: English does without it.
  const plain = decimals === undefined ? String(rounded) : rounded.toFixed(decimals)
  if (language === 'en' && /^-?\d+(?:\.\d{1,20})?$/.test(plain)) return plain
  const least = decimals ?? 0
  let format = numbers.get(least)
  if (format === undefined) {
    format = new Intl.NumberFormat(language, {
      minimumFractionDigits: least,
      maximumFractionDigits: 20,
      useGrouping: false,
    })
    numbers.set(least, format)
  }
  return format.format(rounded)
}

/** A large number with the thousands of the language: `12,345`. */
export const inThousands = (value: number): string => new Intl.NumberFormat(language).format(value)
