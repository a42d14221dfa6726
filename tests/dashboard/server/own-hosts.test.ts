import { hostname } from 'node:os'
import { describe, expect, it } from 'vitest'
import { isLoopback, isOwnHost } from '#dashboard/server/http/own-hosts.ts'

describe('isOwnHost', () => {
  it('takes the names of the loopback with the port in use, in any case', () => {
    for (const host of ['127.0.0.1:4780', 'localhost:4780', 'LOCALHOST:4780', '[::1]:4780']) {
      expect(isOwnHost(host, 4780, { lan: false })).toBe(true)
    }
    expect(isOwnHost('localhost', 80, { lan: false })).toBe(true)
  })

  it('refuses a name that was pointed at this machine, another port and nonsense', () => {
    for (const host of [
      undefined,
      '',
      'bench.example',
      'bench.example:4780',
      'localhost.bench.example:4780',
      '127.0.0.1:81',
      '127.0.0.1',
      '127.0.0.1:4780@bench.example',
      'localhost:4780:4780',
      'local host:4780',
    ]) {
      expect(isOwnHost(host, 4780, { lan: true })).toBe(false)
    }
  })

  it('takes this machine’s own name only when shared with the network', () => {
    const host = `${hostname()}:4780`
    expect(isOwnHost(host, 4780, { lan: true })).toBe(true)
    expect(isOwnHost(host, 4780, { lan: false })).toBe(false)
  })
})

describe('isLoopback', () => {
  it('knows 127.0.0.0/8 and ::1 (RFC 1122, RFC 4291), also as IPv4 in IPv6', () => {
    for (const address of ['127.0.0.1', '127.255.255.254', '::1', '::ffff:127.0.0.1']) {
      expect(isLoopback(address)).toBe(true)
    }
    for (const address of ['', '10.0.0.1', '128.0.0.1', '127.0.0.1.example', '::ffff:10.0.0.1', '::']) {
      expect(isLoopback(address)).toBe(false)
    }
  })
})
