/** First bytes of the formats that phones and cameras write, and where they stand. */
const signatures: readonly (readonly [at: number, bytes: readonly number[]])[] = [
  [0, [0xff, 0xd8, 0xff]], // JPEG
  [0, [0x89, 0x50, 0x4e, 0x47]], // PNG
  [8, [0x57, 0x45, 0x42, 0x50]], // WebP: RIFF....WEBP
  [4, [0x66, 0x74, 0x79, 0x70]], // HEIC, AVIF: ....ftyp
]

/** Whether bytes begin as a picture does. */
export function isPicture(bytes: Uint8Array): boolean {
  return signatures.some(([at, wanted]) => wanted.every((byte, i) => bytes[at + i] === byte))
}
