let knownFor = 0
let sizePx = 0

/** The small step of the type scale for words on a canvas, which knows no `rem`; asked of the page again when its width changes. */
export function canvasFont(weight: 400 | 600 = 400): string {
  if (knownFor !== innerWidth) {
    knownFor = innerWidth
    sizePx = 0.8 * Number.parseFloat(getComputedStyle(document.documentElement).fontSize)
  }
  return `${weight} ${sizePx * devicePixelRatio}px "IBM Plex Sans", sans-serif`
}
