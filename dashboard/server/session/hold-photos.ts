import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { writeFileDurably } from '#dashboard/archive/write-durably.ts'

/** Photos taken during one hold; more are a phone gone wild. */
const atMost = 40

/** Keeps a photo beside the recordings until its hold is sealed; returns its name, null when there are too many. */
export function keepHoldPhoto(
  folder: string,
  kept: readonly string[],
  photo: { readonly fitting: string | null; readonly bytes: Uint8Array; readonly recording: string },
): string | null {
  if (kept.length >= atMost) return null
  const stem = photo.recording.replace(/\.lp$/, '')
  const name = `${stem}-photo-${kept.length + 1}${photo.fitting === null ? '' : `-${photo.fitting.replaceAll(/[^\w-]/g, '_')}`}.jpg`
  writeFileDurably(join(folder, name), photo.bytes)
  return name
}

/** The photos of a hold that ends, as the archive takes them. */
export function photosOf(
  folder: string,
  names: readonly string[],
): { readonly name: string; readonly bytes: Uint8Array }[] {
  return names.map((name) => ({ name, bytes: readFileSync(join(folder, name)) }))
}
