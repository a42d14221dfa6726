import type { RouteTable } from './routes.ts'

const style = `
:root { color-scheme: light dark; font: 18px/1.5 system-ui, sans-serif }
body { margin: 0; min-height: 100vh; display: grid; place-items: center }
main { max-width: 24rem; padding: 1.5rem }
a { color: inherit }
h1 { font-size: 1.5rem; margin: 0 0 .5rem }
label, input, button { display: block; width: 100%; box-sizing: border-box; font: inherit }
input { font-size: 1.6rem; letter-spacing: .1em; text-transform: uppercase; padding: .5rem; margin: .25rem 0 1rem }
button { padding: .75rem; font-weight: 600; min-height: 3rem; margin-top: .75rem }
.problem { border-left: .3rem solid #c33; padding-left: .75rem }
`

/** Style of the pages that need no script. */
export function plainStyle(table: RouteTable): void {
  table.forAnyone('GET', '/join.css', (context) =>
    context.body(style, 200, { 'content-type': 'text/css; charset=utf-8' }),
  )
}

/** A page that needs no script. @param problem why the last attempt failed */
export function plainPage(title: string, problem: string | null, content: string): string {
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>${title} · Stillhold</title>
<link rel="stylesheet" href="/join.css">
</head>
<body>
<main>
<h1>${title}</h1>
${problem ? `<p class="problem" role="alert">${escapeHtml(problem)}</p>` : ''}
${content}
</main>
</body>
</html>
`
}

export function escapeHtml(text: string): string {
  return text.replaceAll(/[&<>"']/g, (character) => `&#${character.charCodeAt(0)};`)
}
