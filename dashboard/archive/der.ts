/** One value of DER (ITU-T X.690): its tag byte, its content, and all its bytes. */
export interface Der {
  readonly tag: number
  readonly body: Buffer
  readonly raw: Buffer
}

/** Consecutive values. @throws RangeError when one is malformed */
export function readDer(bytes: Buffer): Der[] {
  const values: Der[] = []
  for (let at = 0; at < bytes.length; ) {
    const start = at
    const tag = bytes.readUInt8(at++)
    let length = bytes.readUInt8(at++)
    if (length > 127) {
      const count = length & 127
      if (count === 0 || count > 4) throw new RangeError('an invalid DER length')
      length = bytes.readUIntBE(at, count)
      at += count
    }
    if (at + length > bytes.length) throw new RangeError('a value that ends after the data')
    values.push({ tag, body: bytes.subarray(at, at + length), raw: bytes.subarray(start, at + length) })
    at += length
  }
  return values
}

/** Encodes a value of DER from its content. */
export function der(tag: number, ...parts: readonly Uint8Array[]): Buffer {
  const body = Buffer.concat(parts)
  if (body.length < 128) return Buffer.concat([Buffer.from([tag, body.length]), body])
  const length = Buffer.alloc(4)
  length.writeUInt32BE(body.length)
  const short = length.subarray(length.findIndex((byte) => byte > 0))
  return Buffer.concat([Buffer.from([tag, 128 | short.length]), short, body])
}

export const derTag = { integer: 2, bytes: 4, null: 5, oid: 6, sequence: 48, set: 49 } as const
