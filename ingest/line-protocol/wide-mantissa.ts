import { nine, zero } from './ascii.ts'

/** All digits between `from` and `to`, up to fifteen, as one whole number. */
export function wideMantissa(bytes: Uint8Array, from: number, to: number): number {
  let mantissa = 0
  for (let i = from; i < to; i++) {
    const c = bytes[i]
    if (c >= zero && c <= nine) mantissa = mantissa * 10 + c - zero
  }
  return mantissa
}
