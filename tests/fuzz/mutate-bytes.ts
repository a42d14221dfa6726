import type { Random } from '#ingest/simulator/random.ts'

const tokens = [
  '\n',
  '\r\n',
  ' ',
  ',',
  '=',
  '"',
  '\\',
  'NaN',
  'Infinity',
  '1e309',
  '-0',
  '9223372036854775807',
  '\0',
  '\ufeff',
  '[]',
  '{}',
  '&a *a',
  'null',
]

/** Damages bytes in one to eight places: flipped, cut, doubled, moved, or a token that readers stumble over put in. */
export function mutateBytes(bytes: Uint8Array, random: Random): Uint8Array {
  let out = Buffer.from(bytes)
  const changes = 1 + Math.floor(random.uniform(0, 8))
  for (let change = 0; change < changes; change++) {
    const at = Math.floor(random.uniform(0, out.length + 1))
    const to = Math.min(out.length, at + Math.floor(2 ** random.uniform(0, 11)))
    const [head, part, tail] = [out.subarray(0, at), out.subarray(at, to), out.subarray(to)]
    const way = random.pick(['flip', 'cut', 'double', 'token', 'end', 'move'])
    if (way === 'flip' && at < out.length) {
      out = Buffer.from(out)
      out[at] ^= 1 << Math.floor(random.uniform(0, 8))
    } else if (way === 'cut') out = Buffer.concat([head, tail])
    else if (way === 'double') out = Buffer.concat([head, part, part, tail])
    else if (way === 'token') out = Buffer.concat([head, Buffer.from(random.pick(tokens)), part, tail])
    else if (way === 'end' && random.chance(0.2)) out = Buffer.from(head)
    else if (way === 'move') out = Buffer.concat([part, head, tail])
  }
  return out
}
