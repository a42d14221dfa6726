import { readFileSync } from 'node:fs'

export function linesOf(path: string): string[] {
  return readFileSync(path, 'utf8').split('\n')
}
