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

/** One megabyte each, for every door that takes lines. */
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

/** A system file of almost the longest length that is read. */
const systemFile = (of: (n: number) => string, head = '', tail = ''): Buffer =>
  Buffer.concat([Buffer.from(head), joined(of, 65_500 - head.length - tail.length), Buffer.from(tail)])

const top = 'stillhold: 1\nname: x\n'
const tank = 'medium: air, volume: 1 L}\n'
const numbered = (count: number, of: (n: number) => string) => Array.from({ length: count }, (_, n) => of(n))
const gauge = `${top}sections:\n- {id: t, ${tank}channels:\n- {id: p, measures: gauge-pressure, section: t, from: {measurement: l, field: p}, `

export const costlySystemFiles: Readonly<Record<string, () => Buffer>> = {
  'aliases of a section': () => systemFile(() => '- *a\n', `${top}x: &a {id: s, ${tank}sections:\n`),
  'aliases of a long list': () =>
    systemFile(() => '*a,', `${top}x: &a [${'1,'.repeat(2000)}]\nsections: [`, '*a]'),
  'anchors one on the other': () =>
    systemFile((n) => `- &a${n + 1} [*a${n},*a${n}]\n`, `${top}x: &a0 [1]\nsections:\n`),
  sections: () => systemFile((n) => `- {id: s${n}, ${tank}`, `${top}sections:\n`),
  'sections of one name': () => systemFile(() => `- {id: s, ${tank}`, `${top}sections:\n`),
  'sections without anything': () => systemFile(() => '{},', `${top}sections: [`, '{}]'),
  'unknown keys': () => systemFile((n) => `k${n}: 1\n`, top),
  'errors of YAML': () => systemFile(() => ']'),
  'directives of YAML': () => systemFile(() => '%x\n'),
  'documents of YAML': () => systemFile(() => '---\n'),
  'repeated empty keys': () => systemFile(() => ':\n'),
  'a quantity of spaces': () =>
    systemFile(() => ' ', `${top}sections:\n- {id: t, medium: air, volume: 1`, 'x}\n'),
  'valves between sections almost named so': () =>
    systemFile(
      (n) => `- {id: v${n}, between: [t${n}, u]}\n`,
      `${top}sections:\n${numbered(700, (n) => `- {id: t${n}, ${tank}`).join('')}valves:\n`,
    ),
  'points of a calibration': () =>
    systemFile((n) => `[${n} psi, ${n} psi],`, `${gauge}unit: psi, calibration: {points: [`, ']}}\n'),
  'lists nested': () => Buffer.from('['.repeat(32_000) + ']'.repeat(32_000)),
  'maps nested': () => Buffer.from(`${'{a: '.repeat(13_000)}1${'}'.repeat(13_000)}`),
}

const pdf = (of: (n: number) => string): Buffer =>
  Buffer.concat([
    Buffer.from('%PDF-1.7\n%\xff\xff\xff\xff\n', 'latin1'),
    joined(of),
    Buffer.from('\nstartxref\n9\n%%EOF\n'),
  ])

/** One megabyte each, as a report; sealed they are read further. */
export const costlyReports: Readonly<Record<string, () => Buffer>> = {
  objects: () => pdf((n) => `${n + 1} 0 obj\n<<>>\nendobj\n`),
  'empty lines in an object': () => pdf((n) => (n === 0 ? '1 0 obj\n' : '\n')),
  'lengths of a stream': () => pdf((n) => (n === 0 ? '1 0 obj\n' : '/Length 1\n')),
  'empty streams': () => pdf((n) => `${n + 1} 0 obj\n/Length 0\nstream\n\nendstream\nendobj\n`),
  dictionaries: () => pdf((n) => (n === 0 ? '1 0 obj\n' : '<<')),
  'headers and ends': () => pdf(() => '%PDF-1.7\nstartxref\n9\n%%EOF\n'),
}

/** One megabyte each, as a sealed record. */
export const costlyRecords: Readonly<Record<string, () => Buffer>> = {
  'lists nested': () => repeated('['),
  'objects nested': () => repeated('{"a":'),
  'keys that all differ': () => Buffer.from(`{${joined((n) => `"k${n}":1,`)}"z":1}`),
  'a text of escapes': () => Buffer.from(`"${'\\u0041'.repeat(160_000)}"`),
}
