import { setCookie } from 'hono/cookie'
import type { Sharing as SharingAnswer } from '#dashboard/api.ts'
import { deviceCookie } from './guard.ts'
import { networkAddresses } from './own-hosts.ts'
import { escapeHtml, plainPage } from './plain-page.ts'
import type { RouteTable } from './routes.ts'
import type { Role, Sharing } from './sharing.ts'

/** The address with a code, for a link or a QR code; null without a network. */
export function joinLink(
  sharing: Sharing,
  role: Role,
  { port, scheme }: { readonly port: number; readonly scheme: string },
): string | null {
  const [address] = networkAddresses()
  return address ? `${scheme}://${address}:${port}/join?code=${sharing.code(role)}` : null
}

/** Shows an operator how others get in. Viewers see nothing that would make them operators. */
export function sharingRoutes(
  table: RouteTable,
  sharing: Sharing | null,
  port: () => number,
  scheme: string,
): void {
  if (sharing) joinPage(table, sharing, scheme)
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
    return answer
  })
}

function advice(sharing: Sharing | null, mayInvite: boolean, links: readonly unknown[]): string {
  if (!sharing) return 'Only this machine can open the page: start the program with --lan to let others in.'
  if (!mayInvite) return 'Ask at the bench for a code: each lets one device in.'
  if (links.length === 0) return 'This machine has no network address now: connect it, then look here again.'
  return 'Each link lets one device in and is then replaced by a new one.'
}

/** The page on which a device of the network enters its code. It needs no script. */
function joinPage(table: RouteTable, sharing: Sharing, scheme: string): void {
  table.forAnyone('GET', '/join', (context) => context.html(page(context.req.query('code') ?? '', null)))
  table.forAnyone('POST', '/join', async (context) => {
    const { code } = await context.req.parseBody()
    const address = context.env.incoming.socket.remoteAddress ?? ''
    const outcome = sharing.join(typeof code === 'string' ? code : '', address)
    if (!outcome.ok && outcome.reason === 'too-many-tries') {
      return context.html(page('', 'Too many tries. Wait a minute, then try again.'), 429)
    }
    if (!outcome.ok) {
      return context.html(
        page('', 'That code is not valid: each works once. Use the newest one on the terminal.'),
        403,
      )
    }
    setCookie(context, deviceCookie, outcome.token, {
      httpOnly: true,
      sameSite: 'Strict',
      secure: scheme === 'https',
      path: '/',
      maxAge: 30 * 24 * 3600,
    })
    return context.redirect('/', 303)
  })
}

function page(code: string, problem: string | null): string {
  return plainPage(
    'Join the bench',
    problem,
    `<form method="post" action="/join">
<label for="code">Code from the bench’s terminal</label>
<input id="code" name="code" value="${escapeHtml(code.slice(0, 20))}" autocomplete="off" autocapitalize="characters" spellcheck="false" required>
<button>Join</button>
</form>`,
  )
}
