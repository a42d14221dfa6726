import { type Signal, useSignal } from '@preact/signals'

export interface Photo {
  readonly name: string
  readonly base64: string
}

/** What the server takes with one sheet, all photos together. */
const atMostBytes = 12 * 1024 * 1024
const megabytes = (bytes: number): string => (bytes / 1024 ** 2).toFixed(1)

/** Photos of a stage. Too large a choice is refused here, before it is sent. */
export function PhotoField({ photos }: { readonly photos: Signal<readonly Photo[]> }) {
  const said = useSignal<string | null>(null)
  const take = async (files: readonly File[]) => {
    const bytes = files.reduce((sum, file) => sum + file.size, 0)
    if (bytes > atMostBytes) {
      photos.value = []
      said.value = `${megabytes(bytes)} MB are too much: choose fewer or smaller photos, 12 MB together at most. None is attached.`
      return
    }
    photos.value = await Promise.all(files.map(asPhoto))
    said.value = files.length === 0 ? null : `${files.length} attached, ${megabytes(bytes)} MB.`
  }
  return (
    <>
      <label class="field">
        <span>Photos, together 12 MB at most</span>
        <input
          type="file"
          accept="image/*"
          multiple
          onChange={(event) => take([...(event.currentTarget.files ?? [])])}
        />
      </label>
      {said.value && (
        <p class={photos.value.length === 0 ? 'note is-undecided' : 'small soft'} role="status">
          {said.value}
        </p>
      )}
    </>
  )
}

async function asPhoto(file: File): Promise<Photo> {
  const bytes = new Uint8Array(await file.arrayBuffer())
  let text = ''
  for (let at = 0; at < bytes.length; at += 0x8000)
    text += String.fromCharCode(...bytes.subarray(at, at + 0x8000))
  return { name: file.name, base64: btoa(text) }
}
