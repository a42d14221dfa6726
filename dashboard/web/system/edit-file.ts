import { t } from '#analysis/reasons/language.ts'
import type { SystemEdit } from '#ingest/system-file/edit-system-file.ts'
import { put } from '../api-client.ts'
import { type SystemAnswer, systemText, takeSystem, typedText } from '../live/bench.ts'
import { toast, toastError } from '../parts/toast.tsx'

/**
 * Writes changes into the system file through the server. They are in force at once, and can be undone for a while.
 *
 * @returns the errors of the file's reader; empty when the changes are saved
 */
export async function editFile(edits: readonly SystemEdit[], said: string): Promise<readonly string[]> {
  return save(() => put<SystemAnswer>('/api/system/edits', { edits }), said)
}

/** Replaces the text of the file, such as with a layout. */
export async function replaceFile(text: string, said: string): Promise<readonly string[]> {
  return save(() => put<SystemAnswer>('/api/system', { text }), said)
}

async function save(send: () => Promise<SystemAnswer>, said: string): Promise<readonly string[]> {
  if (typedText.value !== null && typedText.value !== systemText.value)
    return [
      t`The system file in Setup has typed changes that are not saved: save them there, or go back to the saved file.`,
    ]
  const before = systemText.value
  try {
    const answer = await send()
    if (answer.errors.length > 0) return answer.errors.map(({ message }) => message)
    takeSystem(answer)
    toast(said, {
      undo: () => void put<SystemAnswer>('/api/system', { text: before }).then(takeSystem, toastError),
    })
    return []
  } catch (error) {
    return [error instanceof Error ? error.message : String(error)]
  }
}
