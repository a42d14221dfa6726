import { t } from '#analysis/reasons/language.ts'
/** A failed request; its message can be shown to the user unchanged. */
export class ApiError extends Error {
  constructor(
    message: string,
    readonly status: number | null,
  ) {
    super(message)
  }
}

async function ask<T>(method: string, path: string, body?: unknown): Promise<T> {
  let response: Response
  try {
    response = await fetch(path, {
      method,
      headers: body === undefined ? {} : { 'content-type': 'application/json' },
      ...(body === undefined ? {} : { body: JSON.stringify(body) }),
    })
  } catch {
    throw new ApiError(
      t`The server does not answer. Is the program still running on the bench computer?`,
      null,
    )
  }
  const text = await response.text()
  let value: unknown = null
  try {
    value = text === '' ? null : JSON.parse(text)
  } catch {
    throw new ApiError(t`The server answered ${path} with something other than JSON.`, response.status)
  }
  if (!response.ok) {
    const said = (value as { error?: unknown } | null)?.error
    throw new ApiError(
      typeof said === 'string' ? said : t`The server refused ${path} (${response.status}).`,
      response.status,
    )
  }
  return value as T
}

export const get = <T>(path: string): Promise<T> => ask<T>('GET', path)
export const post = <T>(path: string, body: unknown): Promise<T> => ask<T>('POST', path, body)
export const put = <T>(path: string, body: unknown): Promise<T> => ask<T>('PUT', path, body)

/** A file of this device as a request carries it. */
export async function base64Of(file: File): Promise<string> {
  const url = await new Promise<string>((done, fail) => {
    const reader = new FileReader()
    reader.onload = () => done(String(reader.result))
    reader.onerror = () => fail(new Error(t`${file.name} cannot be read by the browser.`))
    reader.readAsDataURL(file)
  })
  return url.slice(url.indexOf(',') + 1)
}
