import { hostname, networkInterfaces } from 'node:os'

const loopbackHosts = ['localhost', '127.0.0.1', '[::1]']

/** True for an address of this machine's loopback, also in its IPv6 form. */
export function isLoopback(address: string): boolean {
  return address === '::1' || /^(::ffff:)?127\.\d{1,3}\.\d{1,3}\.\d{1,3}$/.test(address)
}

/** True for a name under which only this machine can be reached. */
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
 * True when a request's Host header names this machine. A page of another site that points its own name at our
 * address (DNS rebinding) carries that name here, and is refused.
 */
export function isOwnHost(
  hostHeader: string | undefined,
  port: number,
  { lan, scheme = 'http' }: { readonly lan: boolean; readonly scheme?: 'http' | 'https' },
): boolean {
  const match = /^(\[[0-9a-f:]+\]|[a-z0-9.-]+)(?::(\d+))?$/.exec((hostHeader ?? '').toLowerCase())
  if (!match || Number(match[2] ?? (scheme === 'https' ? 443 : 80)) !== port) return false
  const host = match[1]
  if (loopbackHosts.includes(host)) return true
  if (!lan) return false
  return networkNames().includes(host) || networkAddresses().includes(host)
}

function networkNames(): string[] {
  const name = hostname().toLowerCase()
  return [name, `${name}.local`]
}

/** Everything this machine is called, as a certificate names it: addresses without brackets. */
export const ownHosts = (): string[] =>
  [...loopbackHosts, ...networkNames(), ...networkAddresses()].map((host) => host.replace(/^\[|\]$/g, ''))
