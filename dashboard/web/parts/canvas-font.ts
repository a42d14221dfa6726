let knownFor = 0
let sizePx = 0

/** The small step of the type scale on a canvas, which knows no `rem`; asked of the page again when its width changes. */
export function canvasSize(): number {
  if (knownFor !== innerWidth) {
    knownFor = innerWidth
    sizePx = 0.8 * Number.parseFloat(getComputedStyle(document.documentElement).fontSize)
  }
  return sizePx * devicePixelRatio
}

export const canvasFont = (weight: 400 | 600 = 400): string =>
  `${weight} ${canvasSize()}px "Stillhold Sans", sans-serif`
