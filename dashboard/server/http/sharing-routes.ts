import type { Sharing as SharingAnswer } from '#dashboard/api.ts'
import type { Route } from './guard.ts'
import { networkAddresses } from './own-hosts.ts'
import { RouteTable } from './routes.ts'
import type { Role, Sharing } from './sharing.ts'

/** The address that carries a code, for a link or a QR code; null without a network. */
export function joinLink(
  sharing: Sharing,
  role: Role,
  { port, scheme }: { readonly port: number; readonly scheme: string },
): string | null {
  const [address] = networkAddresses()
  return address ? `${scheme}://${address}:${port}/join?code=${sharing.code(role)}` : null
}

/** Tells an operator how others get in. Viewers are told nothing that would make them operators. */
export function sharingRoutes(sharing: Sharing | null, port: () => number, scheme: string): Route[] {
  const table = new RouteTable()
  table.get('/api/sharing', (context) => {
    const mayInvite = context.get('role') === 'operator'
    const roles: readonly Role[] = sharing && mayInvite ? ['viewer', 'operator'] : []
    const links = roles.flatMap((role) => {
      const url = joinLink(sharing!, role, { port: port(), scheme })
      return url ? [{ role, url }] : []
    })
    const answer: SharingAnswer = {
      loopbackOnly: sharing === null,
      advice: advice(sharing, mayInvite, links),
      links,
    }
    return context.json(answer)
  })
  return table.routes
}

function advice(sharing: Sharing | null, mayInvite: boolean, links: readonly unknown[]): string {
  if (!sharing) return 'Only this machine can open the page: start the program with --lan to let others in.'
  if (!mayInvite) return 'Ask at the bench for a code: each lets one device in.'
  if (links.length === 0) return 'This machine has no network address now: connect it, then look here again.'
  return 'Each link lets one device in and is then replaced by a new one.'
}
