import { createHash, randomBytes, randomInt, timingSafeEqual } from 'node:crypto'
import type { LiveState } from '#dashboard/api.ts'

export type Role = LiveState['role']

export type JoinOutcome =
  | { readonly ok: true; readonly token: string; readonly role: Role }
  | { readonly ok: false; readonly reason: 'wrong-code' | 'too-many-tries' }

/** No letters or digits that are easily confused. */
const codeAlphabet = '23456789ABCDEFGHJKMNPQRSTUVWXYZ'
const maxDevices = 200
const minuteMs = 60_000

/**
 * Access of other devices: one code for each role, valid for one device, and a token for every device that entered
 * a code. Tokens live as long as the program runs; after a restart every device needs a new code.
 */
export class Sharing {
  readonly #codes = new Map<Role, string>()
  /** SHA-256 of the token → role, oldest first. */
  readonly #devices = new Map<string, Role>()
  readonly #perAddress: RateLimit
  readonly #everyone: RateLimit
  /** Called with the code that replaces a used one. */
  onNewCode: (role: Role, code: string) => void = () => {}

  constructor(nowMs?: () => number) {
    this.#perAddress = new RateLimit(5, minuteMs, nowMs)
    this.#everyone = new RateLimit(30, minuteMs, nowMs)
    for (const role of ['viewer', 'operator'] as const) this.#codes.set(role, newCode())
  }

  code(role: Role): string {
    return this.#codes.get(role)!
  }

  join(text: string, address: string): JoinOutcome {
    if (!this.#perAddress.take(address) || !this.#everyone.take(''))
      return { ok: false, reason: 'too-many-tries' }
    const given = text.toUpperCase().replaceAll(/[^A-Z0-9]/g, '')
    let found: Role | null = null
    for (const [role, code] of this.#codes) {
      if (timingSafeEqual(digest(code.replace('-', '')), digest(given))) found = role
    }
    if (!found) return { ok: false, reason: 'wrong-code' }
    const code = newCode()
    this.#codes.set(found, code)
    this.onNewCode(found, code)
    const token = randomBytes(32).toString('base64url')
    this.#devices.set(digest(token).toString('hex'), found)
    if (this.#devices.size > maxDevices) this.#devices.delete(this.#devices.keys().next().value!)
    return { ok: true, token, role: found }
  }

  roleOfToken(token: string): Role | null {
    return this.#devices.get(digest(token).toString('hex')) ?? null
  }
}

function newCode(): string {
  const letters = Array.from({ length: 8 }, () => codeAlphabet[randomInt(codeAlphabet.length)])
  return `${letters.slice(0, 4).join('')}-${letters.slice(4).join('')}`
}

function digest(text: string): Buffer {
  return createHash('sha256').update(text).digest()
}

/** Token buckets, one per key, that refill evenly; full buckets are deleted. */
export class RateLimit {
  readonly #tries: number
  readonly #perMs: number
  readonly #nowMs: () => number
  readonly #buckets = new Map<string, { left: number; atMs: number }>()

  /** @param tries capacity; @param windowMs time in which an empty bucket refills, [ms] */
  constructor(tries: number, windowMs: number, nowMs: () => number = () => performance.now()) {
    this.#tries = tries
    this.#perMs = tries / windowMs
    this.#nowMs = nowMs
  }

  /** Takes one try; false when none is left. */
  take(key: string): boolean {
    const nowMs = this.#nowMs()
    const bucket = this.#buckets.get(key) ?? { left: this.#tries, atMs: nowMs }
    bucket.left = Math.min(this.#tries, bucket.left + (nowMs - bucket.atMs) * this.#perMs)
    bucket.atMs = nowMs
    const allowed = bucket.left >= 1
    if (allowed) bucket.left -= 1
    this.#buckets.set(key, bucket)
    if (this.#buckets.size > 1000) this.#forgetFull(nowMs)
    return allowed
  }

  #forgetFull(nowMs: number): void {
    for (const [key, { left, atMs }] of this.#buckets) {
      if (left + (nowMs - atMs) * this.#perMs >= this.#tries) this.#buckets.delete(key)
    }
    // All buckets in use: resetting them gives each key one more burst but bounds the memory.
    if (this.#buckets.size > 1000) this.#buckets.clear()
  }
}
