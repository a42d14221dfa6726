import { theme } from '../theme.ts'

let known = new Map<string, string>()
let knownFor = ''

/** Colour of a token in the theme in force; canvases cannot read custom properties by themselves. */
export function ink(token: string): string {
  if (knownFor !== theme.peek()) {
    known = new Map()
    knownFor = theme.peek()
  }
  let color = known.get(token)
  if (color === undefined) {
    color = getComputedStyle(document.documentElement).getPropertyValue(token).trim()
    known.set(token, color)
  }
  return color
}
