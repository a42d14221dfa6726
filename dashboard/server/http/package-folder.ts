import { existsSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { fileURLToPath } from 'node:url'

/** The folder of this program's package.json, both from the sources and from the build. */
export function packageFolder(from = fileURLToPath(import.meta.url)): string {
  for (let folder = dirname(from); ; folder = dirname(folder)) {
    if (existsSync(join(folder, 'package.json'))) return folder
    if (folder === dirname(folder))
      throw new Error(`package.json is missing above ${from}: install the program again`)
  }
}
