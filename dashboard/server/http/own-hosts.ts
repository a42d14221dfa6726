import { hostname, networkInterfaces } from 'node:os'

const loopbackHosts = ['localhost', '127.0.0.1', '[::1]']

/** True for an address of this machine's loopback, also in its IPv6 form. */
export function isLoopback(address: string): boolean {
  return address === '::1' || /^(::ffff:)?127\.\d{1,3}\.\d{1,3}\.\d{1,3}$/.test(address)
}

/** True for a name that reaches only this machine. */
export function isLoopbackHost(host: string): boolean {
  return host === 'localhost' || isLoopback(host)
}

/** Addresses of this machine that others on the network can reach, IPv4 first. */
export function networkAddresses(): string[] {
  const all = Object.values(networkInterfaces()).flatMap((addresses) => addresses ?? [])
  const outside = all.filter(({ internal, address }) => !internal && !address.startsWith('fe80'))
  return [
    ...outside.filter(({ family }) => family === 'IPv4').map(({ address }) => address),
    ...outside.filter(({ family }) => family === 'IPv6').map(({ address }) => `[${address}]`),
  ]
}

/**
 * True when a request's Host header names this machine. Under DNS rebinding, a foreign site's name resolves to our
 * address; the header still carries that name, so the request is refused.
 */
export function isOwnHost(
  hostHeader: string | undefined,
  port: number,
  { lan, scheme = 'http' }: { readonly lan: boolean; readonly scheme?: 'http' | 'https' },
): boolean {
  const match = /^(\[[0-9a-f:]+\]|[a-z0-9.-]+)(?::(\d+))?$/.exec((hostHeader ?? '').toLowerCase())
  const [, host, given = scheme === 'https' ? 443 : 80] = match ?? []
  if (host === undefined || Number(given) !== port) return false
  if (loopbackHosts.includes(host)) return true
  if (!lan) return false
  return networkNames().includes(host) || networkAddresses().includes(host)
}

function networkNames(): string[] {
  const name = hostname().toLowerCase()
  return [name, `${name}.local`]
}

/** All names and addresses of this machine for its certificate; addresses without brackets. */
export const ownHosts = (): string[] =>
  [...loopbackHosts, ...networkNames(), ...networkAddresses()].map((host) => host.replace(/^\[|\]$/g, ''))
