import { t } from '#analysis/reasons/language.ts'
import type { LiveState, NewMark } from '#dashboard/api.ts'
import { take } from '../live/bench.ts'
import { toast, toastError } from '../parts/toast.tsx'
import { markWord } from '../words.ts'
import { deliver, dropWaiting, waiting } from './outbox.ts'

type ShownMark = LiveState['marks'][number]

/** Sends a mark and offers to undo it. */
export async function sendMark(mark: NewMark, words: string): Promise<void> {
  try {
    const state = await deliver(mark, words)
    if (state === null) {
      const kept = waiting.value.at(-1)?.mark.key
      toast(t`No network. Kept on this device: ${words}.`, { undo: () => dropWaiting(kept) })
      return
    }
    take(state)
    const made = state.marks.findLast((one) => one.kind === mark.kind && one.id === (mark.id ?? null))
    toast(t`Marked: ${words}.`, made && { undo: () => void takeBack(made) })
  } catch (error) {
    toastError(error)
  }
}

export const markWords = ({ id, text }: ShownMark, say = markWord): string =>
  id === null ? say(text) : `${id} ${say(text)}`

/** Takes a mark back with a correcting mark: nothing in the recording is erased. */
export async function takeBack(mark: ShownMark): Promise<void> {
  const words = markWords(mark)
  try {
    const state = await deliver(
      {
        kind: 'correction',
        ...(mark.id !== null && { id: mark.id }),
        fields: { of: mark.ns, was: markWords(mark, String) },
      },
      t`taken back: ${words}`,
    )
    if (state !== null) take(state)
    toast(t`Taken back: ${words}.`)
  } catch (error) {
    toastError(error)
  }
}
