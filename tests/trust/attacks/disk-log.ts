import fs from 'node:fs'
import { syncBuiltinESMExports } from 'node:module'
import { dirname, join, relative } from 'node:path'

type Step =
  | { readonly kind: 'make'; readonly path: string; readonly file: number }
  | { readonly kind: 'write'; readonly file: number; readonly bytes: Buffer }
  | { readonly kind: 'sync-file'; readonly file: number }
  | { readonly kind: 'sync-folder'; readonly path: string }
  | { readonly kind: 'rename'; readonly from: string; readonly to: string }
  | { readonly kind: 'remove'; readonly path: string }

const watchedNames = [
  'openSync',
  'closeSync',
  'writeSync',
  'fsyncSync',
  'fdatasyncSync',
  'renameSync',
  'rmSync',
] as const
type Operation = (...given: unknown[]) => unknown

/**
 * Writes down every operation on the files of a folder while `act` runs, and can then lay out the folder as a power cut
 * after any of them leaves it: what was forced to the disk is there, of the rest chance decides. The operations are real.
 */
export class DiskLog {
  readonly #root: string
  readonly steps: Step[] = []
  /** Files there before, by path: they are on the disk. */
  readonly #before = new Map<string, Buffer>()

  constructor(root: string) {
    this.#root = root
    for (const name of fs.readdirSync(root, { recursive: true, encoding: 'utf8' })) {
      const path = join(root, name)
      if (fs.statSync(path).isFile()) this.#before.set(path, fs.readFileSync(path))
    }
  }

  watch(act: () => void): void {
    const real = Object.fromEntries(watchedNames.map((name) => [name, fs[name]])) as unknown as Record<
      string,
      Operation
    >
    const open = new Map<number, { readonly path: string; readonly file: number }>()
    let files = 0
    const note = (name: string, given: unknown[], result: unknown) => {
      const [first, second] = given
      const isOurs = (path: unknown): path is string =>
        typeof path === 'string' && path.startsWith(this.#root)
      if (name === 'openSync' && isOurs(first)) {
        const file = files++
        open.set(result as number, { path: first, file })
        if (/[wa]/.test(String(second))) this.steps.push({ kind: 'make', path: first, file })
      }
      const handle = open.get(first as number)
      if (name === 'closeSync') open.delete(first as number)
      else if (handle && name === 'writeSync') {
        const [, data, offset = 0, length = (data as Buffer).length] = given as [
          number,
          Buffer,
          number?,
          number?,
        ]
        this.steps.push({
          kind: 'write',
          file: handle.file,
          bytes: Buffer.from(data.subarray(offset, offset + length)),
        })
      } else if (handle && name.endsWith('syncSync')) {
        const isFolder = fs.statSync(handle.path, { throwIfNoEntry: false })?.isDirectory()
        this.steps.push(
          isFolder ? { kind: 'sync-folder', path: handle.path } : { kind: 'sync-file', file: handle.file },
        )
      } else if (name === 'renameSync' && isOurs(first))
        this.steps.push({ kind: 'rename', from: first, to: second as string })
      else if (name === 'rmSync' && isOurs(first)) this.steps.push({ kind: 'remove', path: first })
    }
    for (const name of watchedNames)
      Object.assign(fs, {
        [name]: (...given: unknown[]) => {
          const result = real[name](...given)
          note(name, given, result)
          return result
        },
      })
    syncBuiltinESMExports()
    try {
      act()
    } finally {
      Object.assign(fs, real)
      syncBuiltinESMExports()
    }
  }

  /**
   * Lays out what the disk holds after a cut behind so many steps.
   *
   * @param keeps whether a change that was not forced to the disk got there all the same
   */
  layOut(target: string, steps: number, keeps: () => boolean): void {
    const content = new Map<number, { written: Buffer; kept: Buffer }>()
    const names = new Map<string, number | Buffer>(this.#before)
    /** Changes of names by folder that no sync has followed yet. */
    const waiting: { readonly folder: string; readonly apply: () => void }[] = []
    const change = (path: string, apply: () => void) => waiting.push({ folder: dirname(path), apply })
    for (const step of this.steps.slice(0, steps)) {
      switch (step.kind) {
        case 'make':
          content.set(step.file, { written: Buffer.alloc(0), kept: Buffer.alloc(0) })
          change(step.path, () => names.set(step.path, step.file))
          break
        case 'write': {
          const file = content.get(step.file)
          if (file) file.written = Buffer.concat([file.written, step.bytes])
          break
        }
        case 'sync-file': {
          const file = content.get(step.file)
          if (file) file.kept = file.written
          break
        }
        case 'rename':
          change(step.to, () => {
            const moved = names.get(step.from)
            names.delete(step.from)
            if (moved !== undefined) names.set(step.to, moved)
          })
          break
        case 'remove':
          change(step.path, () => names.delete(step.path))
          break
        case 'sync-folder':
          for (const each of waiting.filter(({ folder }) => folder === step.path)) {
            each.apply()
            waiting.splice(waiting.indexOf(each), 1)
          }
      }
    }
    // Names reach the disk in their order, as far as they get; the bytes of a file in whole, in part or not at all.
    for (const each of waiting) {
      if (!keeps()) break
      each.apply()
    }
    for (const [path, file] of names) {
      const to = join(target, relative(this.#root, path))
      fs.mkdirSync(dirname(to), { recursive: true })
      fs.writeFileSync(to, Buffer.isBuffer(file) ? file : this.#onDisk(content.get(file as number), keeps))
    }
  }

  #onDisk(file: { written: Buffer; kept: Buffer } | undefined, keeps: () => boolean): Buffer {
    if (file === undefined) return Buffer.alloc(0)
    if (!keeps()) return file.kept
    return keeps() ? file.written : file.written.subarray(0, (file.kept.length + file.written.length) >> 1)
  }
}
