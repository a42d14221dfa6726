import { type Signal, useSignal } from '@preact/signals'
import { inDigits, t } from '#analysis/reasons/language.ts'
import type { Attached } from './judge.tsx'

/** Server limit for all photos of one sheet. */
const atMostBytes = 12 * 1024 * 1024
const megabytes = (bytes: number): string => inDigits(bytes / 1024 ** 2, 1)

/** Picks files from this device. */
export function FileField(props: {
  readonly label: string
  readonly accept: string
  readonly onPick: (files: readonly File[]) => Promise<void>
}) {
  return (
    <label class="field">
      <span>{props.label}</span>
      <input
        type="file"
        accept={props.accept}
        multiple
        onChange={(event) => void props.onPick([...(event.currentTarget.files ?? [])])}
      />
    </label>
  )
}

/** Photos of a stage. A choice over the limit is refused before it is sent. */
export function PhotoField({ photos }: { readonly photos: Signal<readonly Attached[]> }) {
  const said = useSignal<string | null>(null)
  const take = async (files: readonly File[]) => {
    const bytes = files.reduce((sum, file) => sum + file.size, 0)
    const tooMuch = bytes > atMostBytes
    photos.value = tooMuch ? [] : await Promise.all(files.map(asPhoto))
    said.value = tooMuch
      ? t`${megabytes(bytes)} MB is too much: choose fewer or smaller photos, at most 12 MB together. None is attached.`
      : files.length === 0
        ? null
        : t`${files.length} attached, ${megabytes(bytes)} MB.`
  }
  return (
    <>
      <FileField label="Photos, together 12 MB at most" accept="image/*" onPick={take} />
      {said.value && (
        <p class={photos.value.length === 0 ? 'note is-undecided' : 'small soft'} role="status">
          {said.value}
        </p>
      )}
    </>
  )
}

async function asPhoto(file: File): Promise<Attached> {
  const bytes = new Uint8Array(await file.arrayBuffer())
  let text = ''
  for (let at = 0; at < bytes.length; at += 0x8000)
    text += String.fromCharCode(...bytes.subarray(at, at + 0x8000))
  return { name: file.name, base64: btoa(text) }
}
