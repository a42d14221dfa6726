/** Inputs of one megabyte that are built to cost more than they should, by name. */
const megabyte = 1_000_000

const repeated = (piece: string, length = megabyte): Buffer =>
  Buffer.from(piece.repeat(Math.ceil(length / piece.length)).slice(0, length))

const joined = (of: (n: number) => string, length = megabyte): Buffer => {
  const parts: string[] = []
  for (let n = 0, size = 0; size < length; n++) {
    const part = of(n)
    parts.push(part)
    size += part.length
  }
  return Buffer.from(parts.join('').slice(0, length))
}

/** Lines as long as the limit allows, each of this pattern. */
const longLines = (of: (n: number) => string, head = ''): Buffer =>
  joined((n) => `${head}${joined((k) => of(k + n), 65_000).toString()}\n`)

export const costlyLines: Readonly<Record<string, () => Buffer>> = {
  'one line of fields with different names': () => joined((n) => (n === 0 ? 'm a=1' : `,f${n}=1`)),
  'lines of fields with different names': () => longLines((n) => `f${n}=1,`, 'm '),
  'lines of tags with different names': () => longLines((n) => `,t${n}=1`, 'm'),
  'series that all differ': () => joined((n) => `m,t=${n} a=1 1767225600000000000\n`),
  'the same name again and again': () => longLines(() => 'a=1,', 'm '),
  'open strings': () => joined((n) => (n % 256 === 0 ? 'm f="x\n' : 'xxxxxxxx\n')),
  'open strings over long lines': () => joined((n) => (n % 256 === 0 ? 'm f="x\n' : `${'x'.repeat(250)}\n`)),
  'one open string': () => joined((n) => (n === 0 ? 'm f="' : 'x')),
  escapes: () => longLines(() => '\\ \\,', 'm'),
  'one newline after another': () => repeated('\n'),
  returns: () => repeated('\r'),
  'short refused lines': () => repeated('x\n'),
  'short comments': () => repeated('#\n'),
  zeros: () => Buffer.alloc(megabyte),
  'bytes that are no UTF-8': () => Buffer.alloc(megabyte, 0xff),
  'lines that are no UTF-8': () =>
    Buffer.from(repeated('aaaaaaa\xff\n').toString(), 'latin1').subarray(0, megabyte),
  'long numbers': () => longLines(() => '9', 'm a='),
  'a check sum behind spaces': () => joined(() => `${' '.repeat(64_000)}crc\n`),
  'labels of spaces': () => joined(() => `a=1 b${' '.repeat(64_000)}c\n`),
  'values of words': () => joined(() => `a=1 b=${'c '.repeat(32_000)}\n`),
  'open brackets behind labels': () => joined(() => `a=${'b [ '.repeat(16_000)}\n`),
  'labels that all differ': () => longLines((n) => `a${n}=1 `),
  'lines of labels that all differ': () => joined((n) => `a${n}=1\n`),
  'quotes behind labels': () => longLines(() => 'a="'),
  'columns without end': () => longLines((n) => `${n % 10},`),
  'rows that all differ': () => joined((n) => `${'1,'.repeat(2 + (n % 40))}\n`),
  'a header of a thousand names': () => longLines((n) => `n${n},`),
  'quoted cells': () => longLines(() => '"",'),
  'nested JSON': () => joined(() => `{"a":${'['.repeat(32_000)}${']'.repeat(32_000)}}\n`),
  'nested JSON with a name each': () => joined(() => `${'{"a":'.repeat(10_000)}1${'}'.repeat(10_000)}\n`),
  'deep JSON with many leaves': () =>
    joined(() => `${'{"abcdefgh":'.repeat(2_000)}[${'1,'.repeat(15_000)}1]${'}'.repeat(2_000)}\n`),
  'JSON of names that all differ': () => joined(() => `{${joined((n) => `"k${n}":1,`, 60_000)}"z":1}\n`),
  'JSON of times': () => longLines((n) => `"time":1767225600000000${n % 10},`, '{'),
  'half a boot message': () => longLines(() => 'boot ', '# '),
}
