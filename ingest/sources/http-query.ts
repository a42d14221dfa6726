/** Database that is shown to clients which look for one: whatever they name is written into the same recording. */
const database = 'stillhold'

/** Answers the statements that clients of the old write protocol send before they write; nothing else is answered. */
export async function answerQuery(request: Request): Promise<unknown> {
  const asked = new URL(request.url).searchParams.get('q') ?? (await formQuery(request))
  const statements = asked
    .split(';')
    .map((text) => text.trim())
    .filter((text) => text !== '')
  return { results: statements.map((text, statement_id) => ({ statement_id, ...answer(text) })) }
}

async function formQuery(request: Request): Promise<string> {
  if (request.method !== 'POST') return ''
  try {
    return new URLSearchParams((await request.text()).slice(0, 65_536)).get('q') ?? ''
  } catch {
    return ''
  }
}

function answer(statement: string): object {
  if (/^(?:create|drop|alter)\s+(?:database|retention\s+policy)\b/i.test(statement)) return {}
  if (/^show\s+databases\b/i.test(statement))
    return { series: [{ name: 'databases', columns: ['name'], values: [[database]] }] }
  return { error: 'this endpoint takes writes only; analyze the recording instead' }
}
